/** Texts of meters. */
export const meters = {
  title: 'meters',
};

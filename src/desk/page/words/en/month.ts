/** Texts of month. */
export const month = {
  title: 'month',
};

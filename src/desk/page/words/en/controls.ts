/** Texts of controls. */
export const controls = {
  title: 'controls',
};

/** Texts of setup. */
export const setup = {
  title: 'setup',
};

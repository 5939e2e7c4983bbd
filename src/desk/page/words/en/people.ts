/** Texts of people. */
export const people = {
  title: 'people',
};

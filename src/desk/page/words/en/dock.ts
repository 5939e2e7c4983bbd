/** Texts of dock. */
export const dock = {
  title: 'dock',
};

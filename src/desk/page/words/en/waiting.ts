/** Texts of waiting. */
export const waiting = {
  title: 'waiting',
};

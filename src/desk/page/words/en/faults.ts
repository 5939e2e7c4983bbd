/** What went wrong, by the stable code of the server: what it is, and what to do. A code without its words is shown as the server said it, in English. */
export const faults: { readonly [code: string]: { readonly says: string; readonly todo: string } } = {
  AWAY: { says: 'tallydock does not answer.', todo: 'Wait a moment; if it stays so, ask whoever looks after this PC.' },
  INTERNAL: {
    says: 'Something broke inside tallydock.',
    todo: 'What was stored is safe. Tell whoever looks after this PC.',
  },
};

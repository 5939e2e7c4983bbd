/** A desk whose parts cannot be loaded: the browser is told so, the log says of what kind it was, the daemon goes on. */
import { expect, it, onTestFinished, vi } from 'vitest';
import { openDesk } from '../../src/desk/listen.ts';
import type { DeskTools } from '../../src/desk/tools.ts';
import { parseConfig } from '../../src/dock/config.ts';

vi.mock('../../src/desk/app.ts', () => ({
  makeDesk: () => {
    throw Object.assign(new Error("Cannot find package 'something'"), { code: 'ERR_MODULE_NOT_FOUND' });
  },
}));

it('is said in the log with the code of the system and the place', async () => {
  const error = vi.fn();
  const tools: Pick<DeskTools, 'config'> & { log: Pick<DeskTools['log'], 'error'> } = {
    config: () => parseConfig('desk.port = 0\n', 'config.toml'),
    log: { error },
  };
  const desk = await openDesk(tools as DeskTools);
  onTestFinished(() => desk.close());
  const answer = await fetch(desk.url);
  expect(answer.status).toBe(500);
  expect(await answer.text()).toContain('its log says more');
  expect(error).toHaveBeenCalledWith(
    {
      code: 'INTERNAL',
      system: 'ERR_MODULE_NOT_FOUND',
      where: expect.arrayContaining([expect.stringMatching(/^\s+at /)]),
    },
    'desk failed',
  );
});

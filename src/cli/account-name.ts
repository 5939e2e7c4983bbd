/** Who runs this program, for the audit chain. */
import { userInfo } from 'node:os';

/** The account's name; some systems have accounts without one. */
export function accountName(): string {
  try {
    return userInfo().username;
  } catch {
    return 'unknown';
  }
}

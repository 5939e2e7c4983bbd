/**
 * The steps that make Windows start the daemon with the PC, as text for PowerShell. Node is not a program that the
 * service manager can talk to (a service made with sc.exe alone ends with error 1053), so the Task Scheduler, which
 * every Windows has, starts it. Pure.
 */
import type { ServicePaths } from './service-systemd.ts';

/** The data folder of a service whose data folder nobody named. */
export const WINDOWS_DATA = 'C:\\ProgramData\\tallydock';

/** The steps, each with the commands to type. */
export function windowsText({ node, program, data }: ServicePaths): string {
  const serve = `${argument(program)} serve --quiet --data ${argument(data)}`;
  const call = `& ${quoted(node)} ${quoted(program)}`;
  return `tallydock started with a Windows PC by the Task Scheduler, under the account LOCAL SERVICE.
Open PowerShell as an administrator and type, one block after the other:

1. Make the data folder, for administrators and the service's account only
   (S-1-5-32-544 are the administrators, S-1-5-19 is LOCAL SERVICE, in every language of Windows):

     New-Item -ItemType Directory -Force ${quoted(data)}
     icacls ${quoted(data)} /inheritance:r /grant '*S-1-5-32-544:(OI)(CI)F' '*S-1-5-19:(OI)(CI)M'

2. Write the docks into config.toml in that folder. Which ports there are, and how the file looks:

     ${call} ports
     ${call} serve --help

3. Make the task. It starts with the PC, starts again one minute after a failure, and has no time limit:

     $action = New-ScheduledTaskAction -Execute ${quoted(node)} -Argument ${quoted(serve)}
     $trigger = New-ScheduledTaskTrigger -AtStartup
     $account = New-ScheduledTaskPrincipal -UserId 'S-1-5-19' -LogonType ServiceAccount
     $settings = New-ScheduledTaskSettingsSet -RestartCount 999 -RestartInterval (New-TimeSpan -Minutes 1) \`
       -ExecutionTimeLimit ([TimeSpan]::Zero) -AllowStartIfOnBatteries -DontStopIfGoingOnBatteries
     Register-ScheduledTask -TaskName tallydock -Action $action -Trigger $trigger -Principal $account -Settings $settings

4. Start it now, and see what it does:

     Start-ScheduledTask -TaskName tallydock
     ${call} status --data ${quoted(data)}

5. To stop it cleanly, so that a download in progress is kept (ending the task in the Task Scheduler kills it):

     ${call} serve --stop --data ${quoted(data)}

Why not sc.exe: a service must answer the Windows service manager, which Node does not do; a service made with
"sc.exe create" alone is ended with error 1053. Where services are a rule of the house, a service wrapper of your
choice can run the same command: ${argument(node)} ${serve}
`;
}

/** A text in PowerShell's single quotes (about_Quoting_Rules). */
const quoted = (text: string): string => `'${text.replaceAll("'", "''")}'`;

/** An argument of a Windows command line. A path cannot hold quotes; one that ends with \\ would hide the closing one. */
const argument = (text: string): string => (/[\s]/.test(text) ? `"${text.replace(/\\+$/, '')}"` : text);

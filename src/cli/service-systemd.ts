/**
 * The systemd unit of the daemon: an account of its own that can reach the store, the serial ports and the network,
 * and nothing else. Pure. Directives: systemd.unit(5), systemd.service(5), systemd.exec(5), systemd.resource-control(5).
 */

/** What is filled in. */
export interface ServicePaths {
  /** Node itself. */
  readonly node: string;
  /** The program's main file. */
  readonly program: string;
  /** The data folder of the service. */
  readonly data: string;
  /** The folder of the automatic backups, where the config names one. */
  readonly backups?: string;
}

/** The data folder of a service whose data folder nobody named; systemd makes it for the service's account. */
export const SYSTEM_DATA = '/var/lib/tallydock';

/** The unit with the steps of its installation as comments before it. */
export function systemdText(paths: ServicePaths): string {
  const { node, program, data, backups } = paths;
  const written = backups === undefined ? [data] : [data, backups];
  const inHomes = [node, program, ...written].filter((path) => /^\/(home|root)(\/|$)/.test(path));
  const call = `${shell(node)} ${shell(program)}`;
  return `# tallydock as a systemd service. As an administrator:
#   1. Make its account:    useradd --system --no-create-home --shell /usr/sbin/nologin --groups dialout tallydock
#   2. Save this text as    /etc/systemd/system/tallydock.service
#   3. Make the data folder and write its docks into it (tallydock serve --help shows how):
#                           install -d -o tallydock -g tallydock -m 700 ${shell(data)}
#                           install -o tallydock -g tallydock -m 600 config.toml ${shell(data)}
#   4. Start it now and with the computer:
#                           systemctl daemon-reload && systemctl enable --now tallydock
#   5. See what it does:    sudo -u tallydock ${call} status --data ${shell(data)}
${inHomes.map((path) => `# Take care: ${path} lies in a home folder, which the account tallydock must be able to read.\n`).join('')}
[Unit]
Description=tallydock: reads the meters at the dock
After=network.target
# A port that is not there for an hour is no reason to give up.
StartLimitIntervalSec=0

[Service]
Type=exec
ExecStart=${[node, program, 'serve', '--quiet', '--data', data].map(unitWord).join(' ')}
User=tallydock
Group=tallydock
SupplementaryGroups=dialout
UMask=0077
Restart=on-failure
RestartSec=10
# A wrong config or call does not become right by trying again.
RestartPreventExitStatus=2
# SIGTERM stops cleanly: a download in progress is kept as incomplete.
KillSignal=SIGTERM
KillMode=mixed
TimeoutStopSec=30

# Files: the whole system is read-only for it, except what is named here. A folder for backups, and one of an outlet that
# lies elsewhere, must be named too.
${data === SYSTEM_DATA ? 'StateDirectory=tallydock\nStateDirectoryMode=0700\n' : ''}ProtectSystem=strict
ReadWritePaths=${written.map(unitWord).join(' ')}
ProtectHome=${inHomes.length > 0 ? 'read-only' : 'yes'}
PrivateTmp=yes

# Devices: serial ports only. Add the driver of another kind of port by its name in /proc/devices.
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyS rw
DeviceAllow=char-ttyAMA rw

# Rights: none beyond those of its account.
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
RemoveIPC=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
`;
}

/** A word of a command line in a unit: quoted where needed; % and $ mean themselves (systemd.service(5), "Command lines"). */
function unitWord(text: string): string {
  const plain = text.replaceAll('%', '%%').replaceAll('$', '$$$$');
  return /^[\w@%+=:,./$-]+$/.test(plain) ? plain : `"${plain.replace(/[\\"]/g, '\\$&')}"`;
}

/** A word of a shell command. */
const shell = (text: string): string => (/^[\w@%+=:,./-]+$/.test(text) ? text : `'${text.replaceAll("'", `'\\''`)}'`);

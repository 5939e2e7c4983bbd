/** Name of the database file inside the data folder; SQLite keeps its -wal and -shm files beside it. */
export const STORE_FILE = 'tallydock.db';

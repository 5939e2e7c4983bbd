/** The second step of the schema: the PC's clock may be changed while a meter is read, and then it is said. */
export const SCHEMA_2 = `
-- Captures during which the PC's own clock was changed: their times may be wrong by so much, either way.
CREATE TABLE capture_clock_step (
  capture_no INTEGER PRIMARY KEY REFERENCES capture, -- the capture
  step_s     REAL NOT NULL CHECK (step_s <> 0) -- seconds, positive where the clock was put forward
) STRICT;
`;

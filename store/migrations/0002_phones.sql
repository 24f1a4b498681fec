-- Browsers that asked to be rung by web push. A row whose time of ending is set
-- is kept until a person takes it off the list. Numbers are never given twice:
-- messages that were sent name their phone by it.
CREATE TABLE phones (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    channel  TEXT NOT NULL,
    person   TEXT NOT NULL,
    name     TEXT NOT NULL,
    endpoint TEXT NOT NULL,
    public   BLOB NOT NULL,
    secret   BLOB NOT NULL,
    added    INTEGER NOT NULL,
    ended    INTEGER,
    why      TEXT NOT NULL,
    UNIQUE (channel, endpoint)
) STRICT;

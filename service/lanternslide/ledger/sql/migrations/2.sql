-- From format 1 to 2: filing finished originals away, names that collide by case or normal form, what was noted.
ALTER TABLE original ADD COLUMN filed_to BLOB;
ALTER TABLE delivery ADD COLUMN place BLOB;
ALTER TABLE delivery ADD COLUMN inherits INTEGER NOT NULL DEFAULT 0 CHECK (inherits IN (0, 1));
UPDATE delivery SET place = place_of(coalesce(intent, output)) WHERE coalesce(intent, output) IS NOT NULL;
CREATE INDEX delivery_place ON delivery (place) WHERE place IS NOT NULL;
CREATE INDEX delivery_intent ON delivery (intent) WHERE intent IS NOT NULL;
CREATE INDEX delivery_state ON delivery (state);
CREATE TABLE noted (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
-- What an owner took back: everything of an original, or one destination, as the original was then.
CREATE TABLE recall (
    original INTEGER NOT NULL REFERENCES original (id),
    destination TEXT NOT NULL,       -- empty: all
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    inode INTEGER NOT NULL,
    digest TEXT,                     -- once it is known
    PRIMARY KEY (original, destination)
) STRICT, WITHOUT ROWID;

-- Files of ours that stand where a delivery is no longer put; they can be taken back too.
CREATE TABLE earlier (
    path BLOB PRIMARY KEY,
    delivery INTEGER NOT NULL REFERENCES delivery (id),
    size INTEGER NOT NULL,
    digest TEXT NOT NULL
) STRICT, WITHOUT ROWID;

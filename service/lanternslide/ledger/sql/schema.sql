-- Format 7. Paths are bytes: a name need not be text.

-- One row says which ledger this is; temporary files carry its name, so that no other service sweeps them.
CREATE TABLE ledger (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    name TEXT NOT NULL
) STRICT;

-- One row for each picture that was seen in a drop folder.
CREATE TABLE original (
    id INTEGER PRIMARY KEY,
    photographer TEXT NOT NULL,
    picture BLOB NOT NULL,           -- path below the drop folder without tags: what makes it one picture
    path BLOB NOT NULL,              -- path below the drop folder as it is now
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    inode INTEGER NOT NULL,
    digest TEXT,                     -- SHA-256, once it was surveyed
    state TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN (
        'waiting',                   -- seen and settled; to be done            -> working, held, gone, delivered
        'working',                   -- a worker has it                         -> waiting, delivered, held, gone
        'delivered',                 -- every delivery stands, or was left out  -> waiting (it changed)
        'held',                      -- waits for its owner                     -> waiting, gone
        'withdrawn',                 -- taken back                              -> waiting
        'gone'                       -- its owner removed it before it was done -> waiting
    )),
    reason_key TEXT,
    reason TEXT,
    attempts INTEGER NOT NULL DEFAULT 0 CHECK (attempts >= 0),
    held_at TEXT,                    -- since when it is held (RFC 3339)
    filed_to BLOB,                   -- where a finished original is filed away, written before it is moved
    older INTEGER NOT NULL DEFAULT 0 -- 1: it was delivered as it is and is asked for again, after all that is fresh
        CHECK (older = 0 OR (older = 1 AND state IN ('waiting', 'working'))),
    UNIQUE (photographer, picture),
    CHECK ((state = 'held') = (reason IS NOT NULL)),
    CHECK ((reason IS NULL) = (reason_key IS NULL))
) STRICT;

CREATE INDEX original_path ON original (photographer, path);
CREATE INDEX original_state ON original (state, photographer);
CREATE INDEX original_older ON original (photographer, id) WHERE older = 1;

-- One row for each (original, destination, density).
CREATE TABLE delivery (
    id INTEGER PRIMARY KEY,
    original INTEGER NOT NULL REFERENCES original (id),
    destination TEXT NOT NULL,
    density REAL NOT NULL CHECK (density >= 1),
    wanted INTEGER NOT NULL DEFAULT 1 CHECK (wanted IN (0, 1)), -- 0: its original no longer asks for it
    state TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN (
        'waiting',                   -- to be made                              -> publishing, left out
        'publishing',                -- the intent is written, the rename may or may not have happened
                                     --                                         -> delivered, waiting
        'delivered',                 -- stands under its name                   -> waiting (its original changed)
        'left out',                  -- the original is too small for it        -> waiting (its original changed)
        'withdrawn'                  -- taken back; with an output: about to be -> waiting
    )),
    made_from TEXT,                  -- digest of the original it was last made from
    recipe TEXT NOT NULL,            -- how it is to be made, as JSON
    output BLOB,                     -- what stands published and is ours: path, size, digest
    output_size INTEGER,
    output_digest TEXT,
    intent BLOB,                     -- what is being published: path, size, digest
    intent_size INTEGER,
    intent_digest TEXT,
    record TEXT,                     -- the record as JSON, written with the intent
    delivered_at TEXT,               -- RFC 3339
    place BLOB,                      -- where it stands or is to: equal for names that any file system takes for one
    inherits INTEGER NOT NULL DEFAULT 0 CHECK (inherits IN (0, 1)), -- 1: the intent takes a name over from another
    about TEXT,                      -- what its metadata say in words, as JSON, written with the intent
    shown TEXT,                      -- what a proof sheet shows of it, as JSON, written with the intent
    UNIQUE (original, destination, density),
    CHECK ((state = 'publishing') = (intent IS NOT NULL)),
    CHECK ((intent IS NULL) = (intent_size IS NULL) AND (intent IS NULL) = (intent_digest IS NULL)),
    CHECK ((output IS NULL) = (output_size IS NULL) AND (output IS NULL) = (output_digest IS NULL)),
    CHECK (state <> 'delivered' OR output IS NOT NULL)
) STRICT;

-- A file belongs to one delivery.
CREATE UNIQUE INDEX delivery_output ON delivery (output) WHERE output IS NOT NULL;

CREATE INDEX delivery_bytes ON delivery (json_extract(record, '$.bytes')) WHERE json_valid(record);
CREATE INDEX delivery_place ON delivery (place) WHERE place IS NOT NULL;
CREATE INDEX delivery_intent ON delivery (intent) WHERE intent IS NOT NULL;
CREATE INDEX delivery_state ON delivery (state);
CREATE INDEX delivery_delivered_at ON delivery (delivered_at);
CREATE INDEX delivery_unwanted ON delivery (state, original) WHERE wanted = 0;

-- What the service was last run with, by name.
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

CREATE INDEX earlier_delivery ON earlier (delivery);

-- Destination folders that were used: their absence is a fault that may pass, never a reason to make them anew.
CREATE TABLE used_folder (
    path BLOB PRIMARY KEY,
    mount BLOB                       -- where the disk or share is mounted that it lies on
) STRICT, WITHOUT ROWID;

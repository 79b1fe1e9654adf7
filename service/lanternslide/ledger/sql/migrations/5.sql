-- From format 4 to 5: which originals are asked for again, after all that is fresh.
ALTER TABLE original ADD COLUMN older INTEGER NOT NULL DEFAULT 0
    CHECK (older = 0 OR (older = 1 AND state IN ('waiting', 'working')));
CREATE INDEX original_older ON original (photographer, id) WHERE older = 1;

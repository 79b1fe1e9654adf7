-- From format 4 to 5: which originals are asked for again, after all that is fresh; and what is asked for each picture, or
-- every few seconds, is found without looking at all of them.
ALTER TABLE original ADD COLUMN older INTEGER NOT NULL DEFAULT 0
    CHECK (older = 0 OR (older = 1 AND state IN ('waiting', 'working')));
CREATE INDEX original_older ON original (photographer, id) WHERE older = 1;
CREATE INDEX earlier_delivery ON earlier (delivery);
DROP INDEX original_state;
CREATE INDEX original_state ON original (state, photographer);

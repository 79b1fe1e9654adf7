-- From format 1 to 2: filing finished originals away, names that collide by case or normal form, what was noted.
ALTER TABLE original ADD COLUMN filed_to BLOB;
ALTER TABLE delivery ADD COLUMN place BLOB;
ALTER TABLE delivery ADD COLUMN inherits INTEGER NOT NULL DEFAULT 0 CHECK (inherits IN (0, 1));
UPDATE delivery SET place = place_of(coalesce(intent, output)) WHERE coalesce(intent, output) IS NOT NULL;
CREATE INDEX delivery_place ON delivery (place) WHERE place IS NOT NULL;
CREATE INDEX delivery_state ON delivery (state);
CREATE TABLE noted (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

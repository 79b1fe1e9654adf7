-- From format 3 to 4: what a proof sheet shows, since when originals are held, and records by their time.
ALTER TABLE delivery ADD COLUMN shown TEXT;
ALTER TABLE original ADD COLUMN held_at TEXT;
CREATE INDEX delivery_delivered_at ON delivery (delivered_at);
CREATE INDEX delivery_unwanted ON delivery (state, original) WHERE wanted = 0;

-- name: ledger_name
-- Which ledger this is.
SELECT name FROM ledger;

-- name: originals_of
-- Everything known of a photographer's pictures.
SELECT * FROM original WHERE photographer = :photographer;

-- name: original_of_picture
-- One picture.
SELECT * FROM original WHERE photographer = :photographer AND picture = :picture;

-- name: original
-- One original by its number.
SELECT * FROM original WHERE id = :id;

-- name: take_in
-- A picture that has settled: new, changed, or under a new path. What it was held for before no longer counts.
INSERT INTO original (photographer, picture, path, size, mtime_ns, inode)
VALUES (:photographer, :picture, :path, :size, :mtime_ns, :inode)
ON CONFLICT (photographer, picture) DO UPDATE SET
    attempts = CASE WHEN (size, mtime_ns, inode) = (excluded.size, excluded.mtime_ns, excluded.inode)
        AND state IN ('waiting', 'working') THEN attempts ELSE 0 END,
    path = excluded.path, size = excluded.size, mtime_ns = excluded.mtime_ns, inode = excluded.inode,
    state = 'waiting', reason = NULL, reason_key = NULL
RETURNING *;

-- name: originals_at
-- What is known under a path: one picture, or several whose tags differ in case only.
SELECT * FROM original WHERE photographer = :photographer AND path = :path;

-- name: set_digest
-- What a survey found.
UPDATE original SET digest = :digest WHERE id = :id;

-- name: set_state
-- waiting, working, delivered, withdrawn, gone.
UPDATE original SET state = :state, reason = NULL, reason_key = NULL WHERE id = :id;

-- name: hold
-- The original waits for its owner.
UPDATE original SET state = 'held', reason = :reason, reason_key = :reason_key WHERE id = :id;

-- name: count_attempt
-- One more attempt has failed.
UPDATE original SET attempts = attempts + 1, state = 'waiting' WHERE id = :id RETURNING attempts;

-- name: deliveries_of
-- All deliveries of an original.
SELECT * FROM delivery WHERE original = :original ORDER BY id;

-- name: forget_wishes
-- Before the deliveries that an original asks for now are marked again.
UPDATE delivery SET wanted = 0 WHERE original = :original;

-- name: want
-- A delivery that an original asks for; it waits unless it was made from the same bytes already.
INSERT INTO delivery (original, destination, density, recipe)
VALUES (:original, :destination, :density, :recipe)
ON CONFLICT (original, destination, density) DO UPDATE SET
    wanted = 1,
    state = CASE WHEN made_from IS :digest OR state = 'publishing' THEN state ELSE 'waiting' END,
    recipe = CASE WHEN made_from IS :digest OR state = 'publishing' THEN recipe ELSE excluded.recipe END;

-- name: unfinished
-- How many wanted deliveries of an original are not done.
SELECT count(*) AS number FROM delivery
WHERE original = :original AND wanted = 1 AND state IN ('waiting', 'publishing');

-- name: intend
-- Written before the rename: a file that matches an open intent is ours.
UPDATE delivery SET state = 'publishing', intent = :path, intent_size = :size, intent_digest = :digest,
    made_from = :made_from, record = :record
WHERE id = :id;

-- name: confirm
-- Written after the rename: the delivery stands.
UPDATE delivery SET state = 'delivered', output = intent, output_size = intent_size,
    output_digest = intent_digest, intent = NULL, intent_size = NULL, intent_digest = NULL,
    delivered_at = :delivered_at
WHERE id = :id AND state = 'publishing';

-- name: take_back_intent
-- The rename did not happen.
UPDATE delivery SET state = 'waiting', made_from = NULL, intent = NULL, intent_size = NULL, intent_digest = NULL
WHERE id = :id AND state = 'publishing';

-- name: leave_out
-- The original is too small for this density.
UPDATE delivery SET state = 'left out', made_from = :made_from WHERE id = :id;

-- name: open_intents
-- Renames that may or may not have happened.
SELECT * FROM delivery WHERE state = 'publishing' ORDER BY id;

-- name: owner_of_output
-- Which delivery a published file belongs to.
SELECT * FROM delivery WHERE output = :path OR intent = :path;

-- name: give_back_work
-- After a stop: nobody works on these any more.
UPDATE original SET state = 'waiting' WHERE state = 'working';

-- name: use_folder
-- A destination's folder is there and ours to use.
INSERT INTO used_folder (path) VALUES (:path) ON CONFLICT DO NOTHING;

-- name: used_folder
-- Whether a destination's folder was used before.
SELECT path FROM used_folder WHERE path = :path;

-- name: used_folders
-- All of them.
SELECT path FROM used_folder;

-- name: records
-- Every delivery that stands or was taken back, with its original.
SELECT delivery.*, original.photographer, original.path, original.attempts
FROM delivery JOIN original ON original.id = delivery.original
WHERE delivery.record IS NOT NULL AND delivery.state IN ('delivered', 'withdrawn')
ORDER BY delivery.delivered_at, delivery.id;

-- name: held
-- What waits for its owner.
SELECT * FROM original WHERE state = 'held' ORDER BY photographer, path;

-- name: counts
-- How many originals of each photographer are in each state.
SELECT photographer, state, count(*) AS number FROM original GROUP BY photographer, state;

-- Joins that say CROSS are read from left to right, and a plus before a column keeps an index on it from being taken (SQLite
-- documentation, "The SQLite Query Optimizer Overview"): otherwise what is asked for one picture looks at all of them.

-- name: ledger_name
-- Which ledger this is.
SELECT name FROM ledger;

-- name: known_of
-- What a scan compares files with. Where a path was noted as two pictures, the one that counts comes last.
SELECT path, size, mtime_ns, inode, state, reason_key, id, older FROM original WHERE photographer = :photographer
ORDER BY state <> 'gone';

-- name: originals_below
-- A photographer's pictures at a path or below a folder (:below ends with a slash, :beyond with the character after
-- it), by where they are dropped or filed away.
SELECT * FROM original WHERE photographer = :photographer AND (
    path = :path OR (path >= :below AND path < :beyond)
);

-- name: originals_filed
-- Pictures that are filed away at a path or below a folder.
SELECT * FROM original WHERE filed_to = :path OR (filed_to >= :below AND filed_to < :beyond);

-- name: waiting_where_filed
-- A photographer's pictures that are to be made again from where they are filed away, those that are older work excepted.
SELECT * FROM original WHERE state = 'waiting' AND photographer = :photographer AND filed_to IS NOT NULL AND older = 0;

-- name: originals_with_deliveries
-- Pictures that something stands published of, oldest first: the next ones after one of them (:after), at most so many.
SELECT * FROM original WHERE id > :after AND EXISTS (
    SELECT 1 FROM delivery WHERE delivery.original = original.id AND +delivery.state = 'delivered'
) ORDER BY id LIMIT :most;

-- name: ask_again
-- An original of which something is to be made again. A newer export that still waits stays fresh; what a worker has
-- waits once that one is done with it.
UPDATE original SET older = CASE WHEN state IN ('waiting', 'working') THEN older ELSE 1 END,
    state = CASE WHEN state = 'working' THEN state ELSE 'waiting' END, reason = NULL, reason_key = NULL
WHERE id = :id;

-- name: older_waiting
-- A photographer's older work: the next originals after one of them (:after), at most so many, of those changed at a time
-- or later and, where a destination is named (:only), of those that are not done with it.
SELECT * FROM original WHERE older = 1 AND state = 'waiting' AND photographer = :photographer AND id > :after
    AND mtime_ns >= :since_ns AND (:only IS NULL OR NOT EXISTS (
        SELECT 1 FROM delivery WHERE delivery.original = original.id AND delivery.destination = :only
    ) OR EXISTS (
        SELECT 1 FROM delivery WHERE delivery.original = original.id AND delivery.destination = :only
            AND delivery.state IN ('waiting', 'publishing')
    ))
ORDER BY id LIMIT :most;

-- name: number_older
-- How many originals of a photographer `older_waiting` returns in all.
SELECT count(*) AS number FROM original WHERE older = 1 AND state = 'waiting' AND photographer = :photographer
    AND mtime_ns >= :since_ns AND (:only IS NULL OR NOT EXISTS (
        SELECT 1 FROM delivery WHERE delivery.original = original.id AND delivery.destination = :only
    ) OR EXISTS (
        SELECT 1 FROM delivery WHERE delivery.original = original.id AND delivery.destination = :only
            AND delivery.state IN ('waiting', 'publishing')
    ));

-- name: older_left
-- How many originals of some photographers are older work, of how many of them it is known how long what is to be made
-- again took the last time, and how long that was in all.
SELECT count(*) AS pictures, count(seconds) AS known, total(seconds) AS seconds FROM (
    SELECT (
        SELECT sum(json_extract(delivery.record, '$.seconds')) FROM delivery
        WHERE delivery.original = original.id AND delivery.state IN ('waiting', 'publishing') AND delivery.wanted = 1
    ) AS seconds
    FROM original WHERE older = 1 AND photographer IN (SELECT value FROM json_each(:photographers))
);

-- name: original_of_picture
-- One picture.
SELECT * FROM original WHERE photographer = :photographer AND picture = :picture;

-- name: take_in
-- A picture that has settled: new, changed, or under a new path. What it was held for before no longer counts. Where the
-- former export is filed away stays known until this one is delivered.
INSERT INTO original (photographer, picture, path, size, mtime_ns, inode, filed_to)
VALUES (:photographer, :picture, :path, :size, :mtime_ns, :inode, :filed_to)
ON CONFLICT (photographer, picture) DO UPDATE SET
    attempts = CASE WHEN (size, mtime_ns, inode) = (excluded.size, excluded.mtime_ns, excluded.inode)
        AND state IN ('waiting', 'working') THEN attempts ELSE 0 END,
    path = excluded.path, size = excluded.size, mtime_ns = excluded.mtime_ns, inode = excluded.inode,
    digest = CASE WHEN (size, mtime_ns, inode) = (excluded.size, excluded.mtime_ns, excluded.inode) THEN digest END,
    older = CASE WHEN :filed_to IS NOT NULL
        OR (size, mtime_ns, inode) = (excluded.size, excluded.mtime_ns, excluded.inode) THEN older ELSE 0 END,
    state = 'waiting', reason = NULL, reason_key = NULL,
    filed_to = coalesce(:filed_to, filed_to)
RETURNING *;

-- name: supersede
-- What was noted of the same file as another picture, before its tags were understood as they are now.
UPDATE original SET state = 'gone', reason = NULL, reason_key = NULL, older = 0
WHERE photographer = :photographer AND path = :path AND id <> :id AND state IN ('waiting', 'held');

-- name: originals_at
-- What is known under a path: one picture, or several whose tags differ in case only.
SELECT * FROM original WHERE photographer = :photographer AND path = :path ORDER BY state = 'gone';

-- name: surveyed
-- What a survey found; a worker is about to have what is to be made (:begins).
UPDATE original SET digest = :digest, state = CASE WHEN :begins THEN 'working' ELSE state END,
    reason = CASE WHEN :begins THEN NULL ELSE reason END, reason_key = CASE WHEN :begins THEN NULL ELSE reason_key END
WHERE id = :id;

-- name: set_state
-- waiting, working, delivered, withdrawn, gone.
UPDATE original SET older = CASE WHEN :state IN ('waiting', 'working') THEN older ELSE 0 END,
    state = :state, reason = NULL, reason_key = NULL
WHERE id = :id;

-- name: finish
-- Nothing more can be made of it now; where it lies is known (:lies) once it was delivered.
UPDATE original SET older = CASE WHEN :state = 'waiting' THEN older ELSE 0 END,
    state = :state, reason = NULL, reason_key = NULL,
    filed_to = CASE WHEN :lies AND :state = 'delivered' THEN :filed_to ELSE filed_to END
WHERE id = :id;

-- name: hold
-- The original waits for its owner.
UPDATE original SET state = 'held', reason = :reason, reason_key = :reason_key, held_at = :held_at, older = 0
WHERE id = :id;

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

-- name: recall
-- Everything of an original, or one destination (:destination, empty for all), is taken back as the file is now.
INSERT INTO recall (original, destination, size, mtime_ns, inode, digest)
VALUES (:original, :destination, :size, :mtime_ns, :inode, :digest)
ON CONFLICT (original, destination) DO UPDATE SET
    size = excluded.size, mtime_ns = excluded.mtime_ns, inode = excluded.inode, digest = excluded.digest;

-- name: is_recalled
-- Whether anything of an original was taken back.
SELECT 1 FROM recall WHERE original = :original LIMIT 1;

-- name: learn_recalls
-- The digest of the file that was recalled is known now. It may have been touched or copied meanwhile: what has the same
-- size is taken for the same, since a picture that stays away in error is asked back, and one published in error is seen.
UPDATE recall SET digest = :digest
WHERE original = :original AND digest IS NULL AND size = (SELECT size FROM original WHERE id = :original);

-- name: end_recalls
-- The original has other bytes now: what was taken back of the former ones no longer counts.
DELETE FROM recall WHERE original = :original AND digest IS NOT :digest;

-- name: obey_recalls
-- What was taken back is not made.
UPDATE delivery SET state = 'withdrawn', made_from = :digest
WHERE original = :original AND state IN ('waiting', 'left out') AND EXISTS (
    SELECT 1 FROM recall WHERE recall.original = delivery.original AND recall.destination IN ('', delivery.destination)
);

-- name: forget_recalls
-- Its owner wants it back.
DELETE FROM recall WHERE original = :original;

-- name: recalled_but_standing
-- Deliveries that were found to stand only after their original was recalled.
SELECT delivery.* FROM recall CROSS JOIN delivery ON delivery.original = recall.original
    AND recall.destination IN ('', delivery.destination)
WHERE +delivery.state = 'delivered' AND (recall.digest IS NULL OR recall.digest IS delivery.made_from)
GROUP BY delivery.id;

-- name: bind
-- An original that is recalled as a whole needs nothing as it is now.
UPDATE original SET digest = CASE WHEN (size, mtime_ns, inode) = (:size, :mtime_ns, :inode) THEN digest END,
    size = :size, mtime_ns = :mtime_ns, inode = :inode, state = 'withdrawn', reason = NULL, reason_key = NULL, older = 0
WHERE id = :id;

-- name: leave_behind
-- Before a delivery stands elsewhere: where it stood.
INSERT OR REPLACE INTO earlier (path, delivery, size, digest)
SELECT output, id, output_size, output_digest FROM delivery WHERE id = :id AND output IS NOT NULL AND output IS NOT intent;

-- name: not_left_behind
-- A path that a delivery stands under now.
DELETE FROM earlier WHERE path = (SELECT intent FROM delivery WHERE id = :id);

-- name: earlier_of
-- Where deliveries of an original stood before.
SELECT earlier.*, delivery.destination FROM earlier JOIN delivery ON delivery.id = earlier.delivery
WHERE delivery.original = :original;

-- name: replaced
-- Where deliveries that stand stood before.
SELECT earlier.*, delivery.destination, delivery.output, original.photographer, original.path AS original
FROM earlier CROSS JOIN delivery ON delivery.id = earlier.delivery CROSS JOIN original ON original.id = delivery.original
WHERE +delivery.state = 'delivered';

-- name: replaced_by
-- Where one delivery that stands stood before.
SELECT earlier.*, delivery.destination, delivery.output, original.photographer, original.path AS original
FROM earlier CROSS JOIN delivery ON delivery.id = earlier.delivery CROSS JOIN original ON original.id = delivery.original
WHERE earlier.delivery = :delivery AND +delivery.state = 'delivered';

-- name: standing
-- What stands of a destination; also what stands while a newer one is to be made, unless its record is the newer one's
-- already.
SELECT delivery.output, delivery.output_size, delivery.output_digest, delivery.record, delivery.about,
    original.photographer, original.picture
FROM delivery JOIN original ON original.id = delivery.original
WHERE delivery.destination = :destination AND (delivery.state = 'delivered' OR (
    delivery.state IN ('waiting', 'publishing') AND delivery.output IS NOT NULL
    AND delivery.output_digest IS json_extract(delivery.record, '$.digest')
));

-- name: recalled_earlier
-- Originals that were recalled and of which something stands where it was put before.
SELECT DISTINCT delivery.original, recall.destination FROM recall CROSS JOIN delivery
    ON delivery.original = recall.original AND recall.destination IN ('', delivery.destination)
CROSS JOIN earlier ON earlier.delivery = delivery.id;

-- name: earlier_at
-- What some delivery has left at a path where it stood before.
SELECT delivery, size, digest FROM earlier WHERE path = :path;

-- name: forget_earlier
-- It is gone, or not ours any more.
DELETE FROM earlier WHERE path = :path;

-- name: noted_below
-- What was noted under names that begin alike.
SELECT substr(name, length(:prefix) + 1) AS name, value FROM noted WHERE substr(name, 1, length(:prefix)) = :prefix;

-- name: known_destinations
-- Every destination that something was ever asked for.
SELECT DISTINCT destination FROM delivery;

-- name: newest
-- When something was last delivered to each destination.
SELECT destination, max(delivered_at) AS delivered_at FROM delivery WHERE state = 'delivered' GROUP BY destination;

-- name: outcome
-- How many wanted deliveries of an original are not done, and how many were taken back, of how many; where it is filed.
SELECT count(*) FILTER (WHERE state IN ('waiting', 'publishing')) AS unfinished,
    count(*) FILTER (WHERE state = 'withdrawn') AS withdrawn, count(*) AS number,
    (SELECT filed_to FROM original WHERE id = :original) AS filed_to
FROM delivery WHERE original = :original AND wanted = 1;

-- name: intend
-- Written before the rename: a file that matches an open intent is ours.
UPDATE delivery SET state = 'publishing', intent = :path, intent_size = :size, intent_digest = :digest,
    place = :place, inherits = :inherits, made_from = :made_from, record = :record, about = :about, shown = :shown
WHERE id = :id;

-- name: inherit
-- A name that another delivery had, whose original is gone, is this one's from now on.
UPDATE delivery SET state = 'withdrawn', output = NULL, output_size = NULL, output_digest = NULL, place = NULL,
    made_from = NULL
WHERE output = (SELECT intent FROM delivery AS heir WHERE heir.id = :id AND heir.inherits = 1) AND id <> :id;

-- name: gone_with_its_name
-- An original whose last name another one inherits is gone, as far as is known: if it comes back, it is done anew.
UPDATE original SET state = 'gone', reason = NULL, reason_key = NULL, older = 0 WHERE id IN (
    SELECT other.original FROM delivery AS other JOIN delivery AS heir ON other.output = heir.intent
    WHERE heir.id = :id AND heir.inherits = 1 AND other.id <> :id AND NOT EXISTS (
        SELECT 1 FROM delivery AS rest
        WHERE rest.original = other.original AND rest.id <> other.id AND +rest.state = 'delivered'
    )
);

-- name: confirm
-- Written after the rename: the delivery stands.
UPDATE delivery SET state = 'delivered', output = intent, output_size = intent_size,
    output_digest = intent_digest, intent = NULL, intent_size = NULL, intent_digest = NULL,
    delivered_at = :delivered_at, inherits = 0
WHERE id = :id AND state = 'publishing';

-- name: take_back_intent
-- The rename did not happen.
UPDATE delivery SET state = 'waiting', made_from = NULL, intent = NULL, intent_size = NULL, intent_digest = NULL,
    place = CASE WHEN output IS NULL THEN NULL ELSE place_of(output) END
WHERE id = :id AND state = 'publishing';

-- name: set_aside_intent
-- It cannot be told whether the rename has happened, in a folder that deliveries no longer go to: if a file turns up
-- there, it is one that was left behind.
INSERT OR REPLACE INTO earlier (path, delivery, size, digest)
SELECT intent, id, intent_size, intent_digest FROM delivery WHERE id = :id AND intent IS NOT NULL;

-- name: leave_out
-- The original is too small for this density. A file that stands from a larger one is about to be deleted.
UPDATE delivery SET state = 'left out', made_from = :made_from WHERE id = :id AND state <> 'withdrawn';

-- name: open_intents
-- Renames that may or may not have happened.
SELECT * FROM delivery WHERE state = 'publishing' ORDER BY id;

-- name: owner_of_output
-- Which delivery a published file belongs to, also under a name that some file system takes for the same.
SELECT * FROM delivery WHERE output = :path OR intent = :path OR place = :place ORDER BY id;

-- name: deliveries_of_size
-- Whose files have so many bytes, or had them before they were taken back.
SELECT delivery.* FROM delivery JOIN original ON original.id = delivery.original
WHERE json_valid(delivery.record) AND json_extract(delivery.record, '$.bytes') = :size
    AND original.photographer = :photographer
ORDER BY delivery.id;

-- name: original
-- One original.
SELECT * FROM original WHERE id = :id;

-- name: withdraw
-- Before the file is deleted: the delivery is taken back, and stays so while its original has the same bytes.
UPDATE delivery SET state = 'withdrawn',
    made_from = coalesce((SELECT digest FROM original WHERE original.id = delivery.original), made_from)
WHERE id = :id AND state <> 'publishing';

-- name: withdrawn
-- After the file was deleted, or was found not to be ours any more.
UPDATE delivery SET output = NULL, output_size = NULL, output_digest = NULL, place = NULL
WHERE id = :id AND state IN ('withdrawn', 'left out');

-- name: open_withdrawals
-- Files that may or may not be deleted yet: taken back, or of an original that is too small for them now.
SELECT * FROM delivery WHERE state IN ('withdrawn', 'left out') AND output IS NOT NULL ORDER BY id;

-- name: redo
-- A delivery that its owner wants made again.
UPDATE delivery SET state = 'waiting', made_from = NULL WHERE id = :id AND state NOT IN ('waiting', 'publishing');

-- name: retry
-- An original that its owner wants tried again, from the beginning; it is fresh, whatever it was before.
UPDATE original SET state = 'waiting', reason = NULL, reason_key = NULL, attempts = 0, older = 0 WHERE id = :id;

-- name: retry_held_for
-- Originals that were held for a limit that has changed.
UPDATE original SET state = 'waiting', reason = NULL, reason_key = NULL WHERE state = 'held' AND reason_key = :reason_key;

-- name: file_away
-- Before a finished original is moved.
UPDATE original SET filed_to = :path WHERE id = :id;

-- name: back_to_filed
-- A newer export was removed before it was delivered: what is filed away counts again, as it looks there.
UPDATE original SET path = :path, size = :size, mtime_ns = :mtime_ns, inode = :inode, digest = NULL, attempts = 0,
    reason = NULL, reason_key = NULL, state = 'waiting'
WHERE id = :id;

-- name: note
-- What the service was last run with.
INSERT INTO noted (name, value) VALUES (:item, :value) ON CONFLICT (name) DO UPDATE SET value = excluded.value;

-- name: forget_note
-- What is not so any more.
DELETE FROM noted WHERE name = :item;

-- name: noted
-- What was noted.
SELECT value FROM noted WHERE name = :item;

-- name: give_back
-- Nobody works on this one any more.
UPDATE original SET state = 'waiting' WHERE id = :id AND state = 'working';

-- name: give_back_work
-- After a stop: nobody works on these any more.
UPDATE original SET state = 'waiting' WHERE state = 'working';

-- name: use_folder
-- A destination's folder is there and ours to use.
INSERT INTO used_folder (path, mount) VALUES (:path, :mount)
ON CONFLICT DO UPDATE SET mount = excluded.mount WHERE mount IS NOT excluded.mount;

-- name: used_folder
-- Whether a destination's folder was used before.
SELECT path, mount FROM used_folder WHERE path = :path;

-- name: used_folders
-- All of them.
SELECT path FROM used_folder;

-- name: records
-- Every delivery that stands or was taken back, with what its original tells; also what stands while a newer one is to
-- be made, unless its record is the newer one's already. The plus keeps to the index on delivered_at.
SELECT delivery.record, CASE delivery.state WHEN 'withdrawn' THEN 'withdrawn' ELSE 'delivered' END AS state,
    delivery.delivered_at, CASE WHEN original.digest IS delivery.made_from THEN original.attempts END AS attempts,
    original.filed_to
FROM delivery CROSS JOIN original ON original.id = delivery.original
WHERE delivery.delivered_at >= :since AND delivery.record IS NOT NULL AND CASE
    WHEN +delivery.state IN ('delivered', 'withdrawn') THEN 1
    ELSE delivery.output_digest IS json_extract(delivery.record, '$.digest') AND delivery.output IS NOT NULL
END
ORDER BY delivery.delivered_at, delivery.id;

-- name: shown_between
-- A photographer's deliveries of a time, oldest first, and what a proof sheet shows of them.
SELECT delivery.record, delivery.shown, delivery.about, delivery.delivered_at, delivery.state
FROM delivery CROSS JOIN original ON original.id = delivery.original
WHERE original.photographer = :photographer AND delivery.record IS NOT NULL
    AND delivery.delivered_at >= :start AND delivery.delivered_at < :end AND delivery.state <> 'left out'
ORDER BY delivery.delivered_at, delivery.id;

-- name: days_of
-- On which days a photographer got deliveries since a time, by this machine's clock: how many, how many of them were taken
-- back, and what is another sum whenever one of them is another.
SELECT date(delivery.delivered_at, 'localtime') AS day, count(*) AS number,
    count(*) FILTER (WHERE delivery.state = 'withdrawn') AS withdrawn,
    sum(delivery.id) AS numbers, sum(CAST(strftime('%s', delivery.delivered_at) AS INTEGER)) AS times
FROM delivery CROSS JOIN original ON original.id = delivery.original
WHERE original.photographer = :photographer AND delivery.delivered_at >= :start AND delivery.state <> 'left out'
GROUP BY day ORDER BY day;

-- name: held_since
-- What waits for its owner since a time or later, longest first; where that is not known, since its file was changed.
SELECT *, coalesce(held_at, strftime('%Y-%m-%dT%H:%M:%S+00:00', mtime_ns / 1000000000, 'unixepoch'), '') AS since
FROM original WHERE state = 'held' AND since >= :since ORDER BY since, photographer, path;

-- name: number_held
-- How many originals wait for their owner, since before a time (:before, null for all).
SELECT count(*) AS number FROM original WHERE state = 'held' AND (:before IS NULL OR
    coalesce(held_at, strftime('%Y-%m-%dT%H:%M:%S+00:00', mtime_ns / 1000000000, 'unixepoch'), '') < :before);

-- name: held
-- What waits for its owner.
SELECT * FROM original WHERE state = 'held' ORDER BY photographer, path;

-- name: counts
-- How many originals of each photographer are in each state.
SELECT photographer, state, count(*) AS number FROM original GROUP BY state, photographer;

-- name: unwanted
-- Deliveries of some photographers that stand and that their original no longer asks for, the first of how many.
SELECT original.photographer, original.path, delivery.output, count(*) OVER () AS number
FROM delivery JOIN original ON original.id = delivery.original
WHERE delivery.wanted = 0 AND delivery.state = 'delivered'
    AND original.photographer IN (SELECT value FROM json_each(:photographers))
ORDER BY original.photographer, original.path, delivery.id LIMIT :most;

-- name: first_in
-- Some photographers' first originals that are in a state.
SELECT * FROM original WHERE state = :state AND photographer IN (SELECT value FROM json_each(:photographers))
ORDER BY photographer, path LIMIT :most;

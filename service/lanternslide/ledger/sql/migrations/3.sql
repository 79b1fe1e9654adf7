-- From format 2 to 3: where the disk of a used folder is mounted, and what a delivery's metadata say in words.
ALTER TABLE delivery ADD COLUMN about TEXT;
ALTER TABLE used_folder ADD COLUMN mount BLOB;

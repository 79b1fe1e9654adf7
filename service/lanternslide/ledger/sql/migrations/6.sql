-- From format 5 to 6: a delivery that is dropped in again is found by its size, and then by its digest.
CREATE INDEX delivery_bytes ON delivery (json_extract(record, '$.bytes')) WHERE json_valid(record);

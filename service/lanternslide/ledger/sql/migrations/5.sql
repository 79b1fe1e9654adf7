-- From format 4 to 5: what is asked for each picture, or every few seconds, is found without looking at all of them.
CREATE INDEX earlier_delivery ON earlier (delivery);
DROP INDEX original_state;
CREATE INDEX original_state ON original (state, photographer);

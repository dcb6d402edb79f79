-- The railway's own words for positions and wear points; vehicle '' means every vehicle.
CREATE TABLE position_aliases (
    row_id BIGINT NOT NULL,
    as_written VARCHAR NOT NULL, point VARCHAR NOT NULL, position VARCHAR NOT NULL, vehicle VARCHAR NOT NULL,
    note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

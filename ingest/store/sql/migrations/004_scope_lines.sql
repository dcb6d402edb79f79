-- Lines of the scope of an opening that people told: added, done, dropped. Form of the rows as in the first step.

CREATE TABLE scope_lines (
    row_id BIGINT NOT NULL,
    opening VARCHAR NOT NULL, component VARCHAR NOT NULL, action VARCHAR NOT NULL, position VARCHAR NOT NULL,
    origin VARCHAR NOT NULL, state VARCHAR NOT NULL, parts DOUBLE, cost DOUBLE, currency VARCHAR NOT NULL,
    labor_hours DOUBLE, trade VARCHAR NOT NULL, ordered TIMESTAMP, date TIMESTAMP, who VARCHAR NOT NULL,
    note VARCHAR NOT NULL, client_id VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

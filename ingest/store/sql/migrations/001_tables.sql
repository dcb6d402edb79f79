-- The first form of the store. Base units: mm for lengths, otherwise the wear point's own; miles; money.
-- Every row of a table carries the batch (command) that brought it and, once it no longer holds, the batch
-- that retracted it: nothing is overwritten. `brought_by` is the batch that first brought the row: an undo brings
-- back a row under its own number and leaves its origin as it was. A missing text is '', a missing number or date
-- NULL. row_id counts up within a table.
-- No secondary index and no foreign key: neither is needed at this size, and both cost safety or speed.

CREATE TABLE batch (
    batch    BIGINT PRIMARY KEY,
    made_at  TIMESTAMP NOT NULL,          -- UTC
    who      VARCHAR NOT NULL,
    command  VARCHAR NOT NULL,            -- add, mend, accept, dismiss, undo, ...
    about    VARCHAR NOT NULL             -- JSON
);

CREATE TABLE vehicles (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, name VARCHAR NOT NULL, arrangement VARCHAR NOT NULL, class VARCHAR NOT NULL,
    service_from TIMESTAMP,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE wear_points (
    row_id BIGINT NOT NULL,
    point VARCHAR NOT NULL, vehicle VARCHAR NOT NULL, component VARCHAR NOT NULL, position VARCHAR NOT NULL,
    quantity VARCHAR NOT NULL, unit VARCHAR NOT NULL,
    new_value DOUBLE, shop_limit DOUBLE, condemning_limit DOUBLE, condemned_when VARCHAR NOT NULL,
    limit_source VARCHAR NOT NULL, gauge_sd DOUBLE, access VARCHAR NOT NULL, matched_set VARCHAR NOT NULL,
    base_unit VARCHAR NOT NULL, per_base DOUBLE NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

-- What the instrument showed; the count carried on across its changes is computed when the log is read.
CREATE TABLE mileage (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, date TIMESTAMP NOT NULL, odometer_read DOUBLE, unit VARCHAR NOT NULL,
    service_days DOUBLE, distance DOUBLE, event VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

-- odometer_read is NULL where the sheet had none: it is then placed in the mileage log when it is read.
CREATE TABLE readings (
    row_id BIGINT NOT NULL,
    point VARCHAR NOT NULL, date TIMESTAMP NOT NULL, value DOUBLE NOT NULL, unit VARCHAR NOT NULL,
    odometer_read DOUBLE, gauge VARCHAR NOT NULL, observer VARCHAR NOT NULL, note VARCHAR NOT NULL,
    value_text VARCHAR NOT NULL, odometer_text VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE work (
    row_id BIGINT NOT NULL,
    point VARCHAR NOT NULL, date TIMESTAMP NOT NULL, action VARCHAR NOT NULL,
    value_before DOUBLE, value_after DOUBLE, unit VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE findings (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, date TIMESTAMP NOT NULL, component VARCHAR NOT NULL,
    examined DOUBLE NOT NULL, defective DOUBLE NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE costs (
    row_id BIGINT NOT NULL,
    component VARCHAR NOT NULL, action VARCHAR NOT NULL, cost DOUBLE NOT NULL, currency VARCHAR NOT NULL,
    labor_hours DOUBLE, days_out DOUBLE, price_date TIMESTAMP,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE usage (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, month TIMESTAMP NOT NULL, miles_planned DOUBLE NOT NULL, miles_sd DOUBLE,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE funds (
    row_id BIGINT NOT NULL,
    date TIMESTAMP NOT NULL, amount DOUBLE NOT NULL, currency VARCHAR NOT NULL, kind VARCHAR NOT NULL,
    note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

-- Rows held back: the text as it came, why, and what became of it. Rows are added to `settled`, never changed here.
CREATE TABLE held (
    held_id BIGINT PRIMARY KEY,
    batch BIGINT NOT NULL, table_name VARCHAR NOT NULL,
    source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    raw VARCHAR NOT NULL,                 -- JSON: heading of the table -> text as written
    reasons VARCHAR NOT NULL,             -- JSON: list of {column, found, reason}
    retracted_in BIGINT
);

CREATE TABLE settled (
    held_id BIGINT NOT NULL,
    batch BIGINT NOT NULL,
    outcome VARCHAR NOT NULL,             -- mended, accepted, dismissed, released
    reason VARCHAR NOT NULL,
    mended VARCHAR NOT NULL,              -- JSON: heading -> text that was put in its place
    retracted_in BIGINT
);

CREATE TABLE run (
    run_id VARCHAR PRIMARY KEY,
    kind VARCHAR NOT NULL,
    made_at TIMESTAMP NOT NULL,           -- UTC
    data_version BIGINT NOT NULL,
    as_of VARCHAR NOT NULL,
    about VARCHAR NOT NULL                -- JSON
);

-- Frames of one shape (names and types of columns) share one table, which has run_id as its first column.
CREATE TABLE run_frame (
    run_id VARCHAR NOT NULL,
    name VARCHAR NOT NULL,
    stored_in VARCHAR NOT NULL,
    PRIMARY KEY (run_id, name)
);

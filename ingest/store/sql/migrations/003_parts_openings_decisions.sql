-- Tables that stay empty until a railway fills them: instruments, facts of engines, parts and where they were fitted,
-- openings and what they showed, pictures, what lies ahead in running and shop, what was answered about sheets; more
-- columns of readings and work. Form of the rows as in the first step.

CREATE TABLE gauges (
    row_id BIGINT NOT NULL,
    gauge VARCHAR NOT NULL, instrument VARCHAR NOT NULL, unit VARCHAR NOT NULL, resolution DOUBLE,
    repeatability DOUBLE, accuracy DOUBLE, reads_high DOUBLE, certificate VARCHAR NOT NULL, since TIMESTAMP,
    until TIMESTAMP, source VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE facts (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, fact VARCHAR NOT NULL, value VARCHAR NOT NULL, unit VARCHAR NOT NULL,
    source VARCHAR NOT NULL, date TIMESTAMP, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE parts (
    row_id BIGINT NOT NULL,
    part_no VARCHAR NOT NULL, component VARCHAR NOT NULL, class VARCHAR NOT NULL, material VARCHAR NOT NULL,
    maker VARCHAR NOT NULL, made VARCHAR NOT NULL, miles_before DOUBLE, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE openings (
    row_id BIGINT NOT NULL,
    opening VARCHAR NOT NULL, vehicle VARCHAR NOT NULL, since TIMESTAMP NOT NULL, until TIMESTAMP,
    depth VARCHAR NOT NULL, place VARCHAR NOT NULL, plan_line VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE fittings (
    row_id BIGINT NOT NULL,
    part_no VARCHAR NOT NULL, vehicle VARCHAR NOT NULL, position VARCHAR NOT NULL, since TIMESTAMP NOT NULL,
    until TIMESTAMP, why VARCHAR NOT NULL, opening VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE events (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, date TIMESTAMP NOT NULL, event VARCHAR NOT NULL, component VARCHAR NOT NULL,
    point VARCHAR NOT NULL, part_no VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE pictures (
    row_id BIGINT NOT NULL,
    picture VARCHAR NOT NULL, file_name VARCHAR NOT NULL, media_type VARCHAR NOT NULL, vehicle VARCHAR NOT NULL,
    component VARCHAR NOT NULL, position VARCHAR NOT NULL, point VARCHAR NOT NULL, part_no VARCHAR NOT NULL,
    opening VARCHAR NOT NULL, date TIMESTAMP, taken_by VARCHAR NOT NULL, note VARCHAR NOT NULL,
    client_id VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE defects (
    row_id BIGINT NOT NULL,
    vehicle VARCHAR NOT NULL, date TIMESTAMP NOT NULL, component VARCHAR NOT NULL, position VARCHAR NOT NULL,
    point VARCHAR NOT NULL, part_no VARCHAR NOT NULL, opening VARCHAR NOT NULL, defect VARCHAR NOT NULL,
    place VARCHAR NOT NULL, method VARCHAR NOT NULL, size DOUBLE, unit VARCHAR NOT NULL,
    verdict VARCHAR NOT NULL, watch_until TIMESTAMP, found_by VARCHAR NOT NULL, picture VARCHAR NOT NULL,
    note VARCHAR NOT NULL, client_id VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE trips (
    row_id BIGINT NOT NULL,
    date TIMESTAMP NOT NULL, train VARCHAR NOT NULL, engines_able VARCHAR NOT NULL, vehicle VARCHAR NOT NULL,
    miles DOUBLE, load VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE capacities (
    row_id BIGINT NOT NULL,
    resource VARCHAR NOT NULL, trade VARCHAR NOT NULL, month TIMESTAMP, amount DOUBLE NOT NULL,
    currency VARCHAR NOT NULL, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE lead_times (
    row_id BIGINT NOT NULL,
    component VARCHAR NOT NULL, action VARCHAR NOT NULL, item VARCHAR NOT NULL, months DOUBLE NOT NULL,
    supplier VARCHAR NOT NULL, date TIMESTAMP, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE answers (
    row_id BIGINT NOT NULL,
    sheet_kind VARCHAR NOT NULL, question VARCHAR NOT NULL, answer VARCHAR NOT NULL, who VARCHAR NOT NULL,
    date TIMESTAMP, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

CREATE TABLE layouts (
    row_id BIGINT NOT NULL,
    layout VARCHAR NOT NULL, sheet_kind VARCHAR NOT NULL, content VARCHAR NOT NULL, who VARCHAR NOT NULL,
    date TIMESTAMP, note VARCHAR NOT NULL,
    batch BIGINT NOT NULL, source_file VARCHAR NOT NULL, source_sheet VARCHAR NOT NULL, source_row BIGINT NOT NULL,
    brought_by BIGINT NOT NULL, retracted_in BIGINT
);

ALTER TABLE readings ADD COLUMN part_no VARCHAR DEFAULT '';
ALTER TABLE readings ALTER COLUMN part_no SET NOT NULL;
ALTER TABLE readings ADD COLUMN opening VARCHAR DEFAULT '';
ALTER TABLE readings ALTER COLUMN opening SET NOT NULL;
ALTER TABLE readings ADD COLUMN found_or_left VARCHAR DEFAULT '';
ALTER TABLE readings ALTER COLUMN found_or_left SET NOT NULL;
ALTER TABLE readings ADD COLUMN client_id VARCHAR DEFAULT '';
ALTER TABLE readings ALTER COLUMN client_id SET NOT NULL;
ALTER TABLE work ADD COLUMN part_no VARCHAR DEFAULT '';
ALTER TABLE work ALTER COLUMN part_no SET NOT NULL;
ALTER TABLE work ADD COLUMN opening VARCHAR DEFAULT '';
ALTER TABLE work ALTER COLUMN opening SET NOT NULL;
ALTER TABLE work ADD COLUMN why VARCHAR DEFAULT '';
ALTER TABLE work ALTER COLUMN why SET NOT NULL;

-- Content of pictures, named by its SHA-256: kept once, whatever shows it.
CREATE TABLE picture_content (
    picture VARCHAR PRIMARY KEY,
    content BLOB NOT NULL
);

-- What was decided about runs that are plans or cases. Rows are added, never changed: the newest of a name holds.
CREATE TABLE decision (
    decision_id BIGINT PRIMARY KEY,
    kind VARCHAR NOT NULL,                -- plan or case
    name VARCHAR NOT NULL,
    state VARCHAR NOT NULL,               -- plan: what_if, proposed, approved, withdrawn; case: kept, shown, withdrawn
    run_id VARCHAR NOT NULL,              -- the run that holds the frozen content
    who VARCHAR NOT NULL,
    made_at TIMESTAMP NOT NULL,           -- UTC
    note VARCHAR NOT NULL
);

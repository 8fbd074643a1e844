CREATE TABLE entry (
	id BIGSERIAL NOT NULL, 
	uuid TEXT DEFAULT '' NOT NULL, 
	station TEXT DEFAULT '' NOT NULL, 
	sequence BIGINT NOT NULL, 
	at_utc TEXT DEFAULT '' NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	what TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_entry PRIMARY KEY (id), 
	CONSTRAINT uq_entry_uuid UNIQUE (uuid), 
	CONSTRAINT uq_entry_station_sequence UNIQUE (station, sequence)
);
CREATE TABLE figure (
	turn_id BIGINT NOT NULL, 
	series_id BIGINT NOT NULL, 
	clamping_id BIGINT NOT NULL, 
	sitting_id BIGINT NOT NULL, 
	gauging_id BIGINT NOT NULL, 
	taken_order BIGINT NOT NULL, 
	recalled BIGINT NOT NULL, 
	step_pm BIGINT NOT NULL, 
	value_um DOUBLE PRECISION NOT NULL, 
	eccentricity_x_um DOUBLE PRECISION, 
	eccentricity_y_um DOUBLE PRECISION, 
	angle_within_mdeg BIGINT NOT NULL, 
	residual_sd_um DOUBLE PRECISION, 
	residual_df BIGINT NOT NULL, 
	method BIGINT NOT NULL, 
	CONSTRAINT pk_figure PRIMARY KEY (turn_id)
);
CREATE INDEX ix_figure_clamping_id ON figure (clamping_id);
CREATE INDEX ix_figure_series_id ON figure (series_id);
CREATE TABLE gauging (
	id BIGSERIAL NOT NULL, 
	instrument_id BIGINT NOT NULL, 
	calibration_id BIGINT NOT NULL, 
	pin_id BIGINT NOT NULL, 
	lever_mdeg BIGINT NOT NULL, 
	CONSTRAINT pk_gauging PRIMARY KEY (id), 
	CONSTRAINT uq_gauging_instrument_id_calibration_id_pin_id_lever_mdeg UNIQUE (instrument_id, calibration_id, pin_id, lever_mdeg)
);
CREATE TABLE schema_revision (
	version_num TEXT NOT NULL, 
	CONSTRAINT pk_schema_revision PRIMARY KEY (version_num)
);
CREATE TABLE series (
	id BIGSERIAL NOT NULL, 
	item_id BIGINT NOT NULL, 
	modification_id BIGINT NOT NULL, 
	setup_revision_id BIGINT NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	diameter_tenths BIGINT NOT NULL, 
	distance_tenths BIGINT NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_series PRIMARY KEY (id), 
	CONSTRAINT uq_series_key UNIQUE (item_id, modification_id, setup_revision_id, position, clocking, diameter_tenths, distance_tenths, characteristic)
);
CREATE TABLE entry_digest (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	previous TEXT DEFAULT '' NOT NULL, 
	digest TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_entry_digest PRIMARY KEY (id), 
	CONSTRAINT uq_entry_digest_entry_id UNIQUE (entry_id), 
	CONSTRAINT fk_entry_digest_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE name (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	folded TEXT DEFAULT '' NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_name PRIMARY KEY (id), 
	CONSTRAINT uq_name_folded UNIQUE (folded), 
	CONSTRAINT ck_name_not_empty CHECK (text <> ''), 
	CONSTRAINT ck_name_kind CHECK (kind IN ('item', 'setup', 'pin', 'instrument')), 
	CONSTRAINT fk_name_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE setting (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	key TEXT DEFAULT '' NOT NULL, 
	value TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setting PRIMARY KEY (id), 
	CONSTRAINT fk_setting_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE sitting (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_sitting PRIMARY KEY (id), 
	CONSTRAINT uq_sitting_label UNIQUE (label), 
	CONSTRAINT fk_sitting_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE calibration (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	gauge_id BIGINT NOT NULL, 
	done_on TEXT DEFAULT '' NOT NULL, 
	due_on TEXT DEFAULT '' NOT NULL, 
	as_found TEXT DEFAULT '' NOT NULL, 
	as_left TEXT DEFAULT '' NOT NULL, 
	error_limit_pm BIGINT, 
	uncertainty_pm BIGINT, 
	coverage_factor DOUBLE PRECISION, 
	certificate TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_calibration PRIMARY KEY (id), 
	CONSTRAINT fk_calibration_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_calibration_gauge_id FOREIGN KEY(gauge_id) REFERENCES name (id)
);
CREATE INDEX ix_calibration_gauge_id ON calibration (gauge_id);
CREATE TABLE custody (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	direction TEXT DEFAULT '' NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	setup_id BIGINT, 
	place TEXT DEFAULT '' NOT NULL, 
	done_at TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_custody PRIMARY KEY (id), 
	CONSTRAINT ck_custody_direction CHECK (direction IN ('took', 'back')), 
	CONSTRAINT fk_custody_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_custody_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_custody_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
);
CREATE INDEX ix_custody_item_id ON custody (item_id);
CREATE TABLE gauge_recall (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	gauge_id BIGINT NOT NULL, 
	found_at TEXT DEFAULT '' NOT NULL, 
	found TEXT DEFAULT '' NOT NULL, 
	since TEXT DEFAULT '' NOT NULL, 
	read_pm BIGINT, 
	true_pm BIGINT, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_gauge_recall PRIMARY KEY (id), 
	CONSTRAINT ck_gauge_recall_found CHECK (found <> ''), 
	CONSTRAINT ck_gauge_recall_both CHECK ((read_pm IS NULL) = (true_pm IS NULL)), 
	CONSTRAINT ck_gauge_recall_above_zero CHECK (read_pm IS NULL OR (read_pm > 0 AND true_pm > 0)), 
	CONSTRAINT fk_gauge_recall_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_gauge_recall_gauge_id FOREIGN KEY(gauge_id) REFERENCES name (id)
);
CREATE INDEX ix_gauge_recall_gauge_id ON gauge_recall (gauge_id);
CREATE TABLE inspection (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	seen_on TEXT DEFAULT '' NOT NULL, 
	finding TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_inspection PRIMARY KEY (id), 
	CONSTRAINT ck_inspection_finding CHECK (finding IN ('crack', 'blue', 'bell-mouth', 'lost spring', 'slip', 'sound')), 
	CONSTRAINT fk_inspection_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_inspection_item_id FOREIGN KEY(item_id) REFERENCES name (id)
);
CREATE INDEX ix_inspection_item_id ON inspection (item_id);
CREATE TABLE instrument_card (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	instrument_id BIGINT NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	unit TEXT DEFAULT '' NOT NULL, 
	division_pm BIGINT NOT NULL, 
	range_pm BIGINT, 
	correct_at_mdeg BIGINT NOT NULL, 
	serial TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_instrument_card PRIMARY KEY (id), 
	CONSTRAINT ck_instrument_card_division CHECK (division_pm > 0), 
	CONSTRAINT ck_instrument_card_kind CHECK (kind IN ('lever', 'plunger', 'electronic', 'other')), 
	CONSTRAINT fk_instrument_card_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_instrument_card_instrument_id FOREIGN KEY(instrument_id) REFERENCES name (id)
);
CREATE INDEX ix_instrument_card_instrument_id ON instrument_card (instrument_id);
CREATE TABLE item_card (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	system TEXT DEFAULT '' NOT NULL, 
	nominal_pm BIGINT, 
	bore_pm BIGINT, 
	range_low_pm BIGINT, 
	range_high_pm BIGINT, 
	grip_length_pm BIGINT, 
	slots BIGINT, 
	material TEXT DEFAULT '' NOT NULL, 
	place TEXT DEFAULT '' NOT NULL, 
	acquired TEXT DEFAULT '' NOT NULL, 
	price TEXT DEFAULT '' NOT NULL, 
	mark TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_item_card PRIMARY KEY (id), 
	CONSTRAINT ck_item_card_kind CHECK (kind IN ('collet', 'sleeve', 'chuck', 'jaws', 'arbor', 'spindle', 'dividing head', 'insert', 'other')), 
	CONSTRAINT fk_item_card_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_item_card_item_id FOREIGN KEY(item_id) REFERENCES name (id)
);
CREATE INDEX ix_item_card_item_id ON item_card (item_id);
CREATE TABLE item_state (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	state TEXT DEFAULT '' NOT NULL, 
	limit_pm BIGINT, 
	since TEXT DEFAULT '' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_item_state PRIMARY KEY (id), 
	CONSTRAINT ck_item_state_state CHECK (state IN ('in service', 'restricted', 'out', 'scrap')), 
	CONSTRAINT fk_item_state_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_item_state_item_id FOREIGN KEY(item_id) REFERENCES name (id)
);
CREATE INDEX ix_item_state_item_id ON item_state (item_id);
CREATE TABLE made_to (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	body_id BIGINT NOT NULL, 
	modification_number BIGINT NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	distance_pm BIGINT NOT NULL, 
	setup_id BIGINT, 
	position TEXT DEFAULT '' NOT NULL, 
	upper_pm BIGINT, 
	lower_pm BIGINT, 
	text TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_made_to PRIMARY KEY (id), 
	CONSTRAINT ck_made_to_some_limit CHECK (upper_pm IS NOT NULL OR lower_pm IS NOT NULL), 
	CONSTRAINT fk_made_to_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_made_to_body_id FOREIGN KEY(body_id) REFERENCES name (id), 
	CONSTRAINT fk_made_to_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
);
CREATE INDEX ix_made_to_body_id ON made_to (body_id);
CREATE TABLE modification (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	number BIGINT NOT NULL, 
	done_at TEXT DEFAULT '' NOT NULL, 
	what TEXT DEFAULT '' NOT NULL, 
	size_before_pm BIGINT, 
	size_pm BIGINT, 
	wall_pm BIGINT, 
	held_by TEXT DEFAULT '' NOT NULL, 
	holder TEXT DEFAULT '' NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	torque TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_modification PRIMARY KEY (id), 
	CONSTRAINT uq_modification_item_id_number UNIQUE (item_id, number), 
	CONSTRAINT ck_modification_number CHECK (number >= 0), 
	CONSTRAINT fk_modification_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_modification_item_id FOREIGN KEY(item_id) REFERENCES name (id)
);
CREATE TABLE pin_card (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	pin_id BIGINT NOT NULL, 
	diameter_pm BIGINT NOT NULL, 
	roundness_pm BIGINT, 
	kind TEXT DEFAULT '' NOT NULL, 
	grade TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_pin_card PRIMARY KEY (id), 
	CONSTRAINT ck_pin_card_diameter CHECK (diameter_pm > 0), 
	CONSTRAINT fk_pin_card_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_pin_card_pin_id FOREIGN KEY(pin_id) REFERENCES name (id)
);
CREATE INDEX ix_pin_card_pin_id ON pin_card (pin_id);
CREATE TABLE setup_position (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	setup_id BIGINT NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setup_position PRIMARY KEY (id), 
	CONSTRAINT uq_setup_position_setup_id_position UNIQUE (setup_id, position), 
	CONSTRAINT fk_setup_position_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_position_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
);
CREATE TABLE setup_revision (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	setup_id BIGINT NOT NULL, 
	number BIGINT NOT NULL, 
	since TEXT DEFAULT '' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	sense TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setup_revision PRIMARY KEY (id), 
	CONSTRAINT uq_setup_revision_setup_id_number UNIQUE (setup_id, number), 
	CONSTRAINT ck_setup_revision_number CHECK (number >= 1), 
	CONSTRAINT ck_setup_revision_sense CHECK (sense IN ('clockwise', 'counterclockwise')), 
	CONSTRAINT fk_setup_revision_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_revision_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
);
CREATE TABLE use_record (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	used_on TEXT DEFAULT '' NOT NULL, 
	clampings BIGINT, 
	hours DOUBLE PRECISION, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_use_record PRIMARY KEY (id), 
	CONSTRAINT fk_use_record_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_use_record_item_id FOREIGN KEY(item_id) REFERENCES name (id)
);
CREATE INDEX ix_use_record_item_id ON use_record (item_id);
CREATE TABLE clamping (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	uuid TEXT DEFAULT '' NOT NULL, 
	item_id BIGINT NOT NULL, 
	modification_id BIGINT NOT NULL, 
	setup_revision_id BIGINT, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	sitting_id BIGINT NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	taken_at TEXT DEFAULT '' NOT NULL, 
	pin_id BIGINT, 
	diameter_pm BIGINT, 
	instrument_id BIGINT, 
	calibration_id BIGINT, 
	lever_mdeg BIGINT, 
	pin_out TEXT DEFAULT '' NOT NULL, 
	torque TEXT DEFAULT '' NOT NULL, 
	conditions TEXT DEFAULT '' NOT NULL, 
	operator TEXT DEFAULT '' NOT NULL, 
	recalled BIGINT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_clamping PRIMARY KEY (id), 
	CONSTRAINT uq_clamping_uuid UNIQUE (uuid), 
	CONSTRAINT ck_clamping_recalled CHECK (recalled IN (0, 1)), 
	CONSTRAINT ck_clamping_pin_out CHECK (pin_out IN ('yes', 'no', '')), 
	CONSTRAINT fk_clamping_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_clamping_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_clamping_modification_id FOREIGN KEY(modification_id) REFERENCES modification (id), 
	CONSTRAINT fk_clamping_setup_revision_id FOREIGN KEY(setup_revision_id) REFERENCES setup_revision (id), 
	CONSTRAINT fk_clamping_sitting_id FOREIGN KEY(sitting_id) REFERENCES sitting (id), 
	CONSTRAINT fk_clamping_pin_id FOREIGN KEY(pin_id) REFERENCES name (id), 
	CONSTRAINT fk_clamping_instrument_id FOREIGN KEY(instrument_id) REFERENCES name (id), 
	CONSTRAINT fk_clamping_calibration_id FOREIGN KEY(calibration_id) REFERENCES calibration (id)
);
CREATE INDEX ix_clamping_item_id ON clamping (item_id);
CREATE TABLE setup_link (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	revision_id BIGINT NOT NULL, 
	rank BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	modification_id BIGINT NOT NULL, 
	clocking_mdeg BIGINT, 
	CONSTRAINT pk_setup_link PRIMARY KEY (id), 
	CONSTRAINT uq_setup_link_revision_id_rank UNIQUE (revision_id, rank), 
	CONSTRAINT fk_setup_link_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_link_revision_id FOREIGN KEY(revision_id) REFERENCES setup_revision (id), 
	CONSTRAINT fk_setup_link_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_setup_link_modification_id FOREIGN KEY(modification_id) REFERENCES modification (id)
);
CREATE TABLE statement (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	number BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	issued_at TEXT DEFAULT '' NOT NULL, 
	receiver TEXT DEFAULT '' NOT NULL, 
	issuer TEXT DEFAULT '' NOT NULL, 
	item_id BIGINT NOT NULL, 
	modification_id BIGINT NOT NULL, 
	setup_revision_id BIGINT, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	diameter_tenths BIGINT NOT NULL, 
	distance_tenths BIGINT NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	verdict TEXT DEFAULT '' NOT NULL, 
	limit_pm BIGINT NOT NULL, 
	digest TEXT DEFAULT '' NOT NULL, 
	file_digest TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_statement PRIMARY KEY (id), 
	CONSTRAINT uq_statement_number_revision UNIQUE (number, revision), 
	CONSTRAINT ck_statement_number CHECK (number >= 1 AND revision >= 1), 
	CONSTRAINT ck_statement_verdict CHECK (verdict IN ('holds', 'does not hold')), 
	CONSTRAINT fk_statement_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_statement_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_statement_modification_id FOREIGN KEY(modification_id) REFERENCES modification (id), 
	CONSTRAINT fk_statement_setup_revision_id FOREIGN KEY(setup_revision_id) REFERENCES setup_revision (id)
);
CREATE INDEX ix_statement_item_id ON statement (item_id);
CREATE TABLE clamping_body (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	clamping_id BIGINT NOT NULL, 
	body_id BIGINT NOT NULL, 
	angle_mdeg BIGINT NOT NULL, 
	CONSTRAINT pk_clamping_body PRIMARY KEY (id), 
	CONSTRAINT uq_clamping_body_clamping_id_body_id UNIQUE (clamping_id, body_id), 
	CONSTRAINT fk_clamping_body_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_clamping_body_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id), 
	CONSTRAINT fk_clamping_body_body_id FOREIGN KEY(body_id) REFERENCES name (id)
);
CREATE TABLE doubt (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	item_id BIGINT NOT NULL, 
	clamping_id BIGINT, 
	why TEXT DEFAULT '' NOT NULL, 
	typed TEXT DEFAULT '' NOT NULL, 
	answer TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_doubt PRIMARY KEY (id), 
	CONSTRAINT ck_doubt_answer CHECK (answer IN ('kept', 'withdrawn')), 
	CONSTRAINT fk_doubt_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_doubt_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_doubt_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
);
CREATE TABLE recall_clearing (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	recall_id BIGINT NOT NULL, 
	clamping_id BIGINT, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_recall_clearing PRIMARY KEY (id), 
	CONSTRAINT ck_recall_clearing_reason CHECK (reason <> ''), 
	CONSTRAINT fk_recall_clearing_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_recall_clearing_recall_id FOREIGN KEY(recall_id) REFERENCES gauge_recall (id), 
	CONSTRAINT fk_recall_clearing_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
);
CREATE INDEX ix_recall_clearing_recall_id ON recall_clearing (recall_id);
CREATE TABLE statement_clamping (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	statement_id BIGINT NOT NULL, 
	clamping_id BIGINT NOT NULL, 
	CONSTRAINT pk_statement_clamping PRIMARY KEY (id), 
	CONSTRAINT uq_statement_clamping_statement_id_clamping_id UNIQUE (statement_id, clamping_id), 
	CONSTRAINT fk_statement_clamping_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_statement_clamping_statement_id FOREIGN KEY(statement_id) REFERENCES statement (id), 
	CONSTRAINT fk_statement_clamping_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
);
CREATE INDEX ix_statement_clamping_clamping_id ON statement_clamping (clamping_id);
CREATE TABLE turn (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	clamping_id BIGINT NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	distance_pm BIGINT NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	closure_pm BIGINT, 
	CONSTRAINT pk_turn PRIMARY KEY (id), 
	CONSTRAINT ck_turn_kind CHECK (kind IN ('tir', 'point', 'value')), 
	CONSTRAINT fk_turn_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_turn_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
);
CREATE INDEX ix_turn_clamping_id ON turn (clamping_id);
CREATE TABLE reading (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	turn_id BIGINT NOT NULL, 
	rank BIGINT NOT NULL, 
	angle_mdeg BIGINT, 
	angle_within_mdeg BIGINT NOT NULL, 
	value_pm BIGINT NOT NULL, 
	low_pm BIGINT, 
	high_pm BIGINT, 
	step_pm BIGINT NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT uq_reading_turn_id_rank UNIQUE (turn_id, rank), 
	CONSTRAINT fk_reading_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_reading_turn_id FOREIGN KEY(turn_id) REFERENCES turn (id)
);
CREATE TABLE strike (
	id BIGSERIAL NOT NULL, 
	entry_id BIGINT NOT NULL, 
	clamping_id BIGINT, 
	turn_id BIGINT, 
	reading_id BIGINT, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_strike PRIMARY KEY (id), 
	CONSTRAINT ck_strike_one_thing CHECK ((CASE WHEN clamping_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN turn_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN reading_id IS NULL THEN 0 ELSE 1 END) = 1), 
	CONSTRAINT ck_strike_reason CHECK (reason <> ''), 
	CONSTRAINT fk_strike_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_strike_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id), 
	CONSTRAINT fk_strike_turn_id FOREIGN KEY(turn_id) REFERENCES turn (id), 
	CONSTRAINT fk_strike_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id)
);
CREATE INDEX ix_strike_clamping_id ON strike (clamping_id);
CREATE INDEX ix_strike_reading_id ON strike (reading_id);
CREATE INDEX ix_strike_turn_id ON strike (turn_id);
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'facts are only added: %', TG_TABLE_NAME; END $$;
CREATE TRIGGER entry_keeps_row BEFORE DELETE OR UPDATE ON entry FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER entry_keeps_truncate BEFORE TRUNCATE ON entry FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setting_keeps_row BEFORE DELETE OR UPDATE ON setting FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setting_keeps_truncate BEFORE TRUNCATE ON setting FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER name_keeps_row BEFORE DELETE OR UPDATE ON name FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER name_keeps_truncate BEFORE TRUNCATE ON name FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER item_card_keeps_row BEFORE DELETE OR UPDATE ON item_card FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER item_card_keeps_truncate BEFORE TRUNCATE ON item_card FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER item_state_keeps_row BEFORE DELETE OR UPDATE ON item_state FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER item_state_keeps_truncate BEFORE TRUNCATE ON item_state FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER modification_keeps_row BEFORE DELETE OR UPDATE ON modification FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER modification_keeps_truncate BEFORE TRUNCATE ON modification FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER pin_card_keeps_row BEFORE DELETE OR UPDATE ON pin_card FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER pin_card_keeps_truncate BEFORE TRUNCATE ON pin_card FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER instrument_card_keeps_row BEFORE DELETE OR UPDATE ON instrument_card FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER instrument_card_keeps_truncate BEFORE TRUNCATE ON instrument_card FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER calibration_keeps_row BEFORE DELETE OR UPDATE ON calibration FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER calibration_keeps_truncate BEFORE TRUNCATE ON calibration FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_position_keeps_row BEFORE DELETE OR UPDATE ON setup_position FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_position_keeps_truncate BEFORE TRUNCATE ON setup_position FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_revision_keeps_row BEFORE DELETE OR UPDATE ON setup_revision FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_revision_keeps_truncate BEFORE TRUNCATE ON setup_revision FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_link_keeps_row BEFORE DELETE OR UPDATE ON setup_link FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER setup_link_keeps_truncate BEFORE TRUNCATE ON setup_link FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER made_to_keeps_row BEFORE DELETE OR UPDATE ON made_to FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER made_to_keeps_truncate BEFORE TRUNCATE ON made_to FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER use_record_keeps_row BEFORE DELETE OR UPDATE ON use_record FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER use_record_keeps_truncate BEFORE TRUNCATE ON use_record FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER inspection_keeps_row BEFORE DELETE OR UPDATE ON inspection FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER inspection_keeps_truncate BEFORE TRUNCATE ON inspection FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER sitting_keeps_row BEFORE DELETE OR UPDATE ON sitting FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER sitting_keeps_truncate BEFORE TRUNCATE ON sitting FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER clamping_keeps_row BEFORE DELETE OR UPDATE ON clamping FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER clamping_keeps_truncate BEFORE TRUNCATE ON clamping FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER clamping_body_keeps_row BEFORE DELETE OR UPDATE ON clamping_body FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER clamping_body_keeps_truncate BEFORE TRUNCATE ON clamping_body FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER turn_keeps_row BEFORE DELETE OR UPDATE ON turn FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER turn_keeps_truncate BEFORE TRUNCATE ON turn FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER reading_keeps_row BEFORE DELETE OR UPDATE ON reading FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER reading_keeps_truncate BEFORE TRUNCATE ON reading FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER strike_keeps_row BEFORE DELETE OR UPDATE ON strike FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER strike_keeps_truncate BEFORE TRUNCATE ON strike FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER doubt_keeps_row BEFORE DELETE OR UPDATE ON doubt FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER doubt_keeps_truncate BEFORE TRUNCATE ON doubt FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER entry_digest_keeps_row BEFORE DELETE OR UPDATE ON entry_digest FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER entry_digest_keeps_truncate BEFORE TRUNCATE ON entry_digest FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER custody_keeps_row BEFORE DELETE OR UPDATE ON custody FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER custody_keeps_truncate BEFORE TRUNCATE ON custody FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER gauge_recall_keeps_row BEFORE DELETE OR UPDATE ON gauge_recall FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER gauge_recall_keeps_truncate BEFORE TRUNCATE ON gauge_recall FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER recall_clearing_keeps_row BEFORE DELETE OR UPDATE ON recall_clearing FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER recall_clearing_keeps_truncate BEFORE TRUNCATE ON recall_clearing FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER statement_keeps_row BEFORE DELETE OR UPDATE ON statement FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER statement_keeps_truncate BEFORE TRUNCATE ON statement FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER statement_clamping_keeps_row BEFORE DELETE OR UPDATE ON statement_clamping FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER statement_clamping_keeps_truncate BEFORE TRUNCATE ON statement_clamping FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (1, '1193a2dc-ea63-4095-b082-f5c4f88f6afb', 'bench', 1, '2026-11-30T04:34:38.047Z', 'AK', 'what is owned');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (2, '5377b94c-f2c8-4069-b7e8-0242a4681c3e', 'bench', 2, '2026-11-30T04:34:38.179Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (3, '2122884b-753c-47c6-98e7-0350006a4425', 'bench', 3, '2026-11-30T04:34:38.219Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (4, '862d9681-91fe-4ef8-8daa-3c0c5178f354', 'bench', 4, '2026-11-30T04:34:38.231Z', 'AK', 'bored');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (5, 'adf0df64-af2c-4d11-adcc-c0ff1f778e61', 'bench', 5, '2026-11-30T04:34:38.267Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (6, '4b1de872-e121-4b09-8287-479158307c8b', 'bench', 6, '2026-11-30T04:34:38.297Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (7, '7ef9a6a1-0646-4bab-9ad3-d6327125e12c', 'bench', 7, '2026-11-30T04:34:38.362Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (8, '041ac683-aab6-4709-93ae-02f1513b5b31', 'bench', 8, '2026-11-30T04:34:38.419Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (9, '956afcfe-c60b-4300-b287-4a95f543f9e0', 'bench', 9, '2026-11-30T04:34:38.481Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (10, '939a5d56-8813-47dc-af63-eaa866a799fb', 'bench', 10, '2026-11-30T04:34:38.554Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (11, '564aabfe-2a6c-46ef-838f-28a51cf74b3e', 'bench', 11, '2026-11-30T04:34:38.595Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (12, 'b7e0089b-62c2-4027-bdc7-53576076f117', 'bench', 12, '2026-11-30T04:34:38.654Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (13, '860cbb4a-a6ed-42a4-ae91-924a00154207', 'bench', 13, '2026-11-30T04:34:38.703Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (14, '72268bb7-0cd5-40a0-8442-a28070158600', 'bench', 14, '2026-11-30T04:34:38.717Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (15, 'd8e887a0-1a8f-4e14-adc1-99d992c6e141', 'bench', 15, '2026-11-30T04:34:38.750Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (16, '73cb6fed-c2b2-46df-8a8d-0d5829dac982', 'bench', 16, '2026-11-30T04:34:38.786Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (17, '94a97268-1ee3-4b91-8a21-f987643edb42', 'bench', 17, '2026-11-30T04:34:38.826Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (18, 'b29b2749-7328-46a5-8358-5f81b2355fbd', 'bench', 18, '2026-11-30T04:34:38.862Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (19, '16187565-fb3e-4c41-8e53-f5cc4352092c', 'bench', 19, '2026-11-30T04:34:38.895Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (20, '6b010de5-82d9-4bfa-9d7d-e3153902e972', 'bench', 20, '2026-11-30T04:34:38.919Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (21, '10cb3221-2ca9-4d06-a1ed-6ca773dcfc93', 'bench', 21, '2026-11-30T04:34:38.937Z', 'AK', 'log');
INSERT INTO entry (id, uuid, station, sequence, at_utc, who, what) VALUES (22, '5924fab3-9df3-464b-b735-d517f8fcac29', 'bench', 22, '2026-11-30T04:34:38.961Z', 'AK', 'mistakes');
SELECT setval(pg_get_serial_sequence('entry', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM entry;
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (1, 1, 1, 1, 1, 20260301100000, 0, 1000000, 12.691848092559134, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (2, 1, 2, 2, 1, 20260302100000, 0, 1000000, 13.668144099679068, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (3, 2, 3, 3, 1, 20260304110000, 0, 1000000, 4.36612566211544, 1.952592014239867, 0.9762960071199329, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (4, 2, 4, 4, 1, 20260305110000, 0, 1000000, 6.174634126388862, 2.928888021359799, 0.9762960071199328, 0, 1.3322676295501878e-15, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (5, 2, 5, 5, 1, 20260306110000, 0, 1000000, 2.7613821083194185, 0.976296007119933, 0.9762960071199331, 0, 5.661048867003676e-16, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (6, 2, 6, 6, 1, 20260307110000, 0, 1000000, 4.366125662115439, 1.9525920142398663, 0.976296007119933, 0, 8.3820000221454525e-16, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (7, 2, 7, 7, 1, 20260308110000, 0, 1000000, 6.174634126388862, 2.928888021359799, 0.9762960071199328, 0, 1.3322676295501878e-15, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (8, 2, 8, 8, 1, 20260309110000, 0, 1000000, 2.7613821083194185, 0.976296007119933, 0.9762960071199331, 0, 5.661048867003676e-16, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (9, 2, 9, 9, 1, 20260310110000, 0, 1000000, 4.366125662115439, 1.9525920142398663, 0.976296007119933, 0, 8.3820000221454525e-16, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (10, 2, 10, 10, 1, 20260311110000, 0, 1000000, 6.174634126388862, 2.928888021359799, 0.9762960071199328, 0, 1.3322676295501878e-15, 1, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (11, 2, 11, 3, 1, 20260304100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (12, 2, 12, 4, 1, 20260305100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (13, 2, 13, 5, 1, 20260306100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (14, 2, 14, 6, 1, 20260307100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (15, 2, 15, 7, 1, 20260308100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (16, 2, 16, 8, 1, 20260309100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (17, 2, 17, 9, 1, 20260310100000, 0, 1000000, 3.9051840284797334, NULL, NULL, 0, NULL, 0, 1);
INSERT INTO figure (turn_id, series_id, clamping_id, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method) VALUES (19, 3, 19, 11, 2, 20190500000000, 1, 1000000, 7.0, -1.7499999999999991, 3.0310889132455356, 15000, NULL, 0, 1);
INSERT INTO gauging (id, instrument_id, calibration_id, pin_id, lever_mdeg) VALUES (1, 5, 1, 4, 12500);
INSERT INTO gauging (id, instrument_id, calibration_id, pin_id, lever_mdeg) VALUES (2, 0, 0, 0, -1);
SELECT setval(pg_get_serial_sequence('gauging', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM gauging;
INSERT INTO schema_revision (version_num) VALUES ('0003');
INSERT INTO series (id, item_id, modification_id, setup_revision_id, position, clocking, diameter_tenths, distance_tenths, characteristic) VALUES (1, 2, 2, 1, 'A', 'P-65=90', 65, 160, 'runout');
INSERT INTO series (id, item_id, modification_id, setup_revision_id, position, clocking, diameter_tenths, distance_tenths, characteristic) VALUES (2, 2, 3, 1, 'A', 'P-65=90', 65, 160, 'runout');
INSERT INTO series (id, item_id, modification_id, setup_revision_id, position, clocking, diameter_tenths, distance_tenths, characteristic) VALUES (3, 2, 2, 1, 'B', '', -1, 160, 'runout');
SELECT setval(pg_get_serial_sequence('series', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM series;
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (1, 1, '', 'dd6456a8f78e2f5dd4352d1065b2ff86d3e1e7a00127c881a935297893876488');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (2, 2, 'dd6456a8f78e2f5dd4352d1065b2ff86d3e1e7a00127c881a935297893876488', 'c3b91771143a4190418b733aca54c6396e46dcf641c798924105fc8a3a2e47ef');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (3, 3, 'c3b91771143a4190418b733aca54c6396e46dcf641c798924105fc8a3a2e47ef', 'f7f5b359292e34c16b0f59ef02d92da8d3b4fb98fc23f0c24434a9b6075e411d');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (4, 4, 'f7f5b359292e34c16b0f59ef02d92da8d3b4fb98fc23f0c24434a9b6075e411d', 'd916e5511e217118ad45bc24973990ea2a46c968f9f5f9a8aa09448e6b27fde9');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (5, 5, 'd916e5511e217118ad45bc24973990ea2a46c968f9f5f9a8aa09448e6b27fde9', 'e1dc5c7306401845400d4dde6020fe0b5fc062a9ce4538ec623acd2166007aa8');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (6, 6, 'e1dc5c7306401845400d4dde6020fe0b5fc062a9ce4538ec623acd2166007aa8', '77e2f377a906ecec22c84ebc9063c37c879c182f419c0bc81805b3cbd6f7714b');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (7, 7, '77e2f377a906ecec22c84ebc9063c37c879c182f419c0bc81805b3cbd6f7714b', '2bc815ad45cfdaddb74d10a399d981ea42fb5f97516a902504cfb19cfc6b49f7');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (8, 8, '2bc815ad45cfdaddb74d10a399d981ea42fb5f97516a902504cfb19cfc6b49f7', '75e2a76e430e6026f2146b383efc7c2ff0bef586dec5ff478748d140232ad5a4');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (9, 9, '75e2a76e430e6026f2146b383efc7c2ff0bef586dec5ff478748d140232ad5a4', 'b2aa150b78fbaa79961698e49bbee1ba744e0b1df89c4ed70148c4e93b67b534');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (10, 10, 'b2aa150b78fbaa79961698e49bbee1ba744e0b1df89c4ed70148c4e93b67b534', 'cc737ecd9a04c637915c9dad4cb10a4173216004ea31f973567851801edee3d1');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (11, 11, 'cc737ecd9a04c637915c9dad4cb10a4173216004ea31f973567851801edee3d1', 'e0a63b03123da2fd876e322835a2227f83edc8942cb5514f8c317b498214e097');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (12, 12, 'e0a63b03123da2fd876e322835a2227f83edc8942cb5514f8c317b498214e097', 'b6006242fb0f7c80b6f5765feca0d0eb4010300f539028406d6545c346aa0da8');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (13, 13, 'b6006242fb0f7c80b6f5765feca0d0eb4010300f539028406d6545c346aa0da8', '3270f0a4047ef8567eabc1d59e4a908dafdabad3114137a5b9d8b707ecb67e4c');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (14, 14, '3270f0a4047ef8567eabc1d59e4a908dafdabad3114137a5b9d8b707ecb67e4c', 'a61630970707ce01109a2ecd88004908b29bee81bd07c48975f7fffc52363320');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (15, 15, 'a61630970707ce01109a2ecd88004908b29bee81bd07c48975f7fffc52363320', '2bf357a4de23c0e7c19efbf177dae1d9464f2461d375f25c42bbf088a9d4de7d');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (16, 16, '2bf357a4de23c0e7c19efbf177dae1d9464f2461d375f25c42bbf088a9d4de7d', 'a7b45e6e6023f7c16e1ff9be6c481511e59726423bc623ce611a3d210dfcde0c');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (17, 17, 'a7b45e6e6023f7c16e1ff9be6c481511e59726423bc623ce611a3d210dfcde0c', 'f76f28e278fe28b58d1b1b9b57f632c1b8c583979483badb658024cb43181694');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (18, 18, 'f76f28e278fe28b58d1b1b9b57f632c1b8c583979483badb658024cb43181694', '1735a57d27abc58eb97a082165b19ccfd293b604be3c95c86e81ccf2cfd15a3a');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (19, 19, '1735a57d27abc58eb97a082165b19ccfd293b604be3c95c86e81ccf2cfd15a3a', '40d2db37c6758e066748177767b7523625bcea7a02d959ce3d25c4a74e8a1395');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (20, 20, '40d2db37c6758e066748177767b7523625bcea7a02d959ce3d25c4a74e8a1395', '9946c7ae88871875c2fb50e702c468a8c3c82390ec37a2630573f17203afe08c');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (21, 21, '9946c7ae88871875c2fb50e702c468a8c3c82390ec37a2630573f17203afe08c', '647592bc4d48c0f063565537d450bbc5eef6e9b99dafe5002a413ee6e63d2b0a');
INSERT INTO entry_digest (id, entry_id, previous, digest) VALUES (22, 22, '647592bc4d48c0f063565537d450bbc5eef6e9b99dafe5002a413ee6e63d2b0a', '9e1edc6ced6babd3b82deee57653a34d8c82d94c5de7cfe90a28413b80232268');
SELECT setval(pg_get_serial_sequence('entry_digest', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM entry_digest;
INSERT INTO name (id, entry_id, folded, text, kind) VALUES (1, 1, 's-1', 'S-1', 'item');
INSERT INTO name (id, entry_id, folded, text, kind) VALUES (2, 1, 'c-046', 'C-046', 'item');
INSERT INTO name (id, entry_id, folded, text, kind) VALUES (3, 1, 'lathe', 'LATHE', 'setup');
INSERT INTO name (id, entry_id, folded, text, kind) VALUES (4, 1, 'p-65', 'P-65', 'pin');
INSERT INTO name (id, entry_id, folded, text, kind) VALUES (5, 1, 'd-1', 'D-1', 'instrument');
SELECT setval(pg_get_serial_sequence('name', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM name;
INSERT INTO setting (id, entry_id, key, value) VALUES (1, 1, 'unit', 'um');
SELECT setval(pg_get_serial_sequence('setting', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM setting;
INSERT INTO sitting (id, entry_id, label) VALUES (1, 2, '2026-03-01');
INSERT INTO sitting (id, entry_id, label) VALUES (2, 3, '2026-03-02');
INSERT INTO sitting (id, entry_id, label) VALUES (3, 5, '2026-03-04');
INSERT INTO sitting (id, entry_id, label) VALUES (4, 6, '2026-03-05');
INSERT INTO sitting (id, entry_id, label) VALUES (5, 7, '2026-03-06');
INSERT INTO sitting (id, entry_id, label) VALUES (6, 8, '2026-03-07');
INSERT INTO sitting (id, entry_id, label) VALUES (7, 9, '2026-03-08');
INSERT INTO sitting (id, entry_id, label) VALUES (8, 10, '2026-03-09');
INSERT INTO sitting (id, entry_id, label) VALUES (9, 11, '2026-03-10');
INSERT INTO sitting (id, entry_id, label) VALUES (10, 12, '2026-03-11');
INSERT INTO sitting (id, entry_id, label) VALUES (11, 21, '2019-05');
SELECT setval(pg_get_serial_sequence('sitting', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM sitting;
INSERT INTO calibration (id, entry_id, gauge_id, done_on, due_on, as_found, as_left, error_limit_pm, uncertainty_pm, coverage_factor, certificate, note) VALUES (1, 1, 5, '2026-01-05', '2027-01-05', '', '', 1000000, NULL, 2.0, '', '');
SELECT setval(pg_get_serial_sequence('calibration', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM calibration;
SELECT setval(pg_get_serial_sequence('custody', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM custody;
SELECT setval(pg_get_serial_sequence('gauge_recall', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM gauge_recall;
INSERT INTO inspection (id, entry_id, item_id, seen_on, finding, note) VALUES (1, 4, 2, '2026-03-03', 'sound', '');
SELECT setval(pg_get_serial_sequence('inspection', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM inspection;
INSERT INTO instrument_card (id, entry_id, instrument_id, kind, unit, division_pm, range_pm, correct_at_mdeg, serial, note) VALUES (1, 1, 5, 'lever', 'um', 1000000, NULL, 0, '', '');
SELECT setval(pg_get_serial_sequence('instrument_card', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM instrument_card;
INSERT INTO item_card (id, entry_id, item_id, kind, system, nominal_pm, bore_pm, range_low_pm, range_high_pm, grip_length_pm, slots, material, place, acquired, price, mark, note) VALUES (1, 1, 1, 'spindle', '', NULL, NULL, NULL, NULL, NULL, NULL, '', '', '', '', '', '');
INSERT INTO item_card (id, entry_id, item_id, kind, system, nominal_pm, bore_pm, range_low_pm, range_high_pm, grip_length_pm, slots, material, place, acquired, price, mark, note) VALUES (2, 1, 2, 'collet', '', NULL, 6500000000, NULL, NULL, NULL, NULL, '', '', '', '', '', 'ø 6,5 "soft"; spare');
SELECT setval(pg_get_serial_sequence('item_card', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM item_card;
INSERT INTO item_state (id, entry_id, item_id, state, limit_pm, since, reason) VALUES (1, 4, 2, 'in service', NULL, '2026-03-04', 'trial');
SELECT setval(pg_get_serial_sequence('item_state', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM item_state;
INSERT INTO made_to (id, entry_id, body_id, modification_number, characteristic, distance_pm, setup_id, position, upper_pm, lower_pm, text) VALUES (1, 4, 2, 1, 'runout', 16000000000, NULL, '', 9000000, NULL, '');
SELECT setval(pg_get_serial_sequence('made_to', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM made_to;
INSERT INTO modification (id, entry_id, item_id, number, done_at, what, size_before_pm, size_pm, wall_pm, held_by, holder, position, clocking, torque, note) VALUES (1, 1, 1, 0, '', 'as received', NULL, NULL, NULL, '', '', '', '', '', '');
INSERT INTO modification (id, entry_id, item_id, number, done_at, what, size_before_pm, size_pm, wall_pm, held_by, holder, position, clocking, torque, note) VALUES (2, 1, 2, 0, '', 'as received', NULL, 6500000000, NULL, '', '', '', '', '', '');
INSERT INTO modification (id, entry_id, item_id, number, done_at, what, size_before_pm, size_pm, wall_pm, held_by, holder, position, clocking, torque, note) VALUES (3, 4, 2, 1, '2026-03-03', 'bored', NULL, NULL, NULL, '', '', '', '', '', '');
SELECT setval(pg_get_serial_sequence('modification', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM modification;
INSERT INTO pin_card (id, entry_id, pin_id, diameter_pm, roundness_pm, kind, grade, note) VALUES (1, 1, 4, 6479000000, 300000, 'pin', 'h4', '');
SELECT setval(pg_get_serial_sequence('pin_card', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM pin_card;
INSERT INTO setup_position (id, entry_id, setup_id, position) VALUES (1, 1, 3, 'A');
INSERT INTO setup_position (id, entry_id, setup_id, position) VALUES (2, 1, 3, 'B');
SELECT setval(pg_get_serial_sequence('setup_position', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM setup_position;
INSERT INTO setup_revision (id, entry_id, setup_id, number, since, reason, sense) VALUES (1, 1, 3, 1, '', 'as first written down', 'clockwise');
SELECT setval(pg_get_serial_sequence('setup_revision', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM setup_revision;
INSERT INTO use_record (id, entry_id, item_id, used_on, clampings, hours, note) VALUES (1, 4, 2, '2026-03-04', 120, 0.30000000000000004, '');
SELECT setval(pg_get_serial_sequence('use_record', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM use_record;
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (1, 2, 'c132ad65-bc14-557a-99ca-5d33fd8a4e34', 2, 2, 1, 'A', 'P-65=90', 1, '1', '2026-03-01T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (2, 3, 'bf60bd73-d5be-57ee-b39a-a66d7af6563c', 2, 2, 1, 'A', 'P-65=90', 2, '1', '2026-03-02T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (3, 5, 'dbc56693-9df9-5ceb-94cc-db6030f0bf00', 2, 3, 1, 'A', 'P-65=90', 3, '1', '2026-03-04T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (4, 6, '03ddc9d3-f28d-51d8-b1a1-ca63fef14dc2', 2, 3, 1, 'A', 'P-65=90', 4, '1', '2026-03-05T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (5, 7, 'edcf4caa-006e-58de-9b8c-719cc34839cb', 2, 3, 1, 'A', 'P-65=90', 5, '1', '2026-03-06T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (6, 8, '4f593dc4-00a2-513b-bb38-37220113a4e4', 2, 3, 1, 'A', 'P-65=90', 6, '1', '2026-03-07T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (7, 9, 'e122e17a-e985-5a3d-bc30-cfaecb97d5f5', 2, 3, 1, 'A', 'P-65=90', 7, '1', '2026-03-08T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (8, 10, '7b8c087a-292d-540d-8fc5-1b199941bfa2', 2, 3, 1, 'A', 'P-65=90', 8, '1', '2026-03-09T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (9, 11, '541d241f-618d-534d-a045-b42bf2319945', 2, 3, 1, 'A', 'P-65=90', 9, '1', '2026-03-10T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (10, 12, 'f3cc64f1-4311-52e6-8667-dc2e220f3c7a', 2, 3, 1, 'A', 'P-65=90', 10, '1', '2026-03-11T11:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (11, 13, '3f587b36-e35a-572b-bc62-e7a6cde6f2a8', 2, 3, 1, 'A', 'P-65=90', 3, '2', '2026-03-04T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (12, 14, 'b94fa0f7-71cc-5f4c-801c-e4f9b292f036', 2, 3, 1, 'A', 'P-65=90', 4, '2', '2026-03-05T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (13, 15, '72c9f54d-2267-5578-91ce-2cf19e47f462', 2, 3, 1, 'A', 'P-65=90', 5, '2', '2026-03-06T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (14, 16, '4f0e2738-c768-5563-ae6c-c1632a1ab947', 2, 3, 1, 'A', 'P-65=90', 6, '2', '2026-03-07T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (15, 17, '3bd4a2e3-1afb-510a-9daa-4eea3bb76fca', 2, 3, 1, 'A', 'P-65=90', 7, '2', '2026-03-08T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (16, 18, '6dd9eab6-0832-5e41-a9e2-c099c244ad40', 2, 3, 1, 'A', 'P-65=90', 8, '2', '2026-03-09T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (17, 19, 'd46c9b54-ed98-574c-8439-c96710420703', 2, 3, 1, 'A', 'P-65=90', 9, '2', '2026-03-10T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (18, 20, 'e6743599-ddde-5daf-a2e2-57ef3691a6a7', 2, 3, 1, 'A', 'P-65=90', 10, '2', '2026-03-11T10:00', 4, 6479000000, 5, 1, 12500, '', '', '', '', 0, '');
INSERT INTO clamping (id, entry_id, uuid, item_id, modification_id, setup_revision_id, position, clocking, sitting_id, label, taken_at, pin_id, diameter_pm, instrument_id, calibration_id, lever_mdeg, pin_out, torque, conditions, operator, recalled, note) VALUES (19, 21, '72c8c068-a2ce-5383-946f-3cda957d9200', 2, 2, 1, 'B', '', 11, '1', '2019-05', NULL, NULL, NULL, NULL, NULL, '', '', '', '', 1, '');
SELECT setval(pg_get_serial_sequence('clamping', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM clamping;
INSERT INTO setup_link (id, entry_id, revision_id, rank, item_id, modification_id, clocking_mdeg) VALUES (1, 1, 1, 1, 1, 1, NULL);
SELECT setval(pg_get_serial_sequence('setup_link', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM setup_link;
SELECT setval(pg_get_serial_sequence('statement', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM statement;
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (1, 2, 1, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (2, 3, 2, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (3, 5, 3, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (4, 6, 4, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (5, 7, 5, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (6, 8, 6, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (7, 9, 7, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (8, 10, 8, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (9, 11, 9, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (10, 12, 10, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (11, 13, 11, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (12, 14, 12, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (13, 15, 13, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (14, 16, 14, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (15, 17, 15, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (16, 18, 16, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (17, 19, 17, 4, 90000);
INSERT INTO clamping_body (id, entry_id, clamping_id, body_id, angle_mdeg) VALUES (18, 20, 18, 4, 90000);
SELECT setval(pg_get_serial_sequence('clamping_body', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM clamping_body;
INSERT INTO doubt (id, entry_id, item_id, clamping_id, why, typed, answer) VALUES (1, 22, 2, 4, 'far off', '5', 'kept');
SELECT setval(pg_get_serial_sequence('doubt', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM doubt;
SELECT setval(pg_get_serial_sequence('recall_clearing', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM recall_clearing;
SELECT setval(pg_get_serial_sequence('statement_clamping', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM statement_clamping;
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (1, 2, 1, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (2, 3, 2, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (3, 5, 3, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (4, 6, 4, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (5, 7, 5, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (6, 8, 6, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (7, 9, 7, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (8, 10, 8, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (9, 11, 9, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (10, 12, 10, '', 16000000000, 'runout', 'point', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (11, 13, 11, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (12, 14, 12, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (13, 15, 13, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (14, 16, 14, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (15, 17, 15, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (16, 18, 16, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (17, 19, 17, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (18, 20, 18, '', 16000000000, 'runout', 'tir', NULL);
INSERT INTO turn (id, entry_id, clamping_id, label, distance_pm, characteristic, kind, closure_pm) VALUES (19, 21, 19, '', 16000000000, 'runout', 'tir', NULL);
SELECT setval(pg_get_serial_sequence('turn', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM turn;
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (1, 2, 1, 0, NULL, 0, 13000000, NULL, NULL, 1000000, '13');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (2, 3, 2, 0, NULL, 0, 14000000, NULL, NULL, 1000000, '14');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (3, 5, 3, 0, 0, 0, 2000000, NULL, NULL, 1000000, '2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (4, 5, 3, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (5, 5, 3, 2, 180000, 0, -2000000, NULL, NULL, 1000000, '-2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (6, 5, 3, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (7, 6, 4, 0, 0, 0, 3000000, NULL, NULL, 1000000, '3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (8, 6, 4, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (9, 6, 4, 2, 180000, 0, -3000000, NULL, NULL, 1000000, '-3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (10, 6, 4, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (11, 7, 5, 0, 0, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (12, 7, 5, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (13, 7, 5, 2, 180000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (14, 7, 5, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (15, 8, 6, 0, 0, 0, 2000000, NULL, NULL, 1000000, '2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (16, 8, 6, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (17, 8, 6, 2, 180000, 0, -2000000, NULL, NULL, 1000000, '-2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (18, 8, 6, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (19, 9, 7, 0, 0, 0, 3000000, NULL, NULL, 1000000, '3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (20, 9, 7, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (21, 9, 7, 2, 180000, 0, -3000000, NULL, NULL, 1000000, '-3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (22, 9, 7, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (23, 10, 8, 0, 0, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (24, 10, 8, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (25, 10, 8, 2, 180000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (26, 10, 8, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (27, 11, 9, 0, 0, 0, 2000000, NULL, NULL, 1000000, '2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (28, 11, 9, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (29, 11, 9, 2, 180000, 0, -2000000, NULL, NULL, 1000000, '-2');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (30, 11, 9, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (31, 12, 10, 0, 0, 0, 3000000, NULL, NULL, 1000000, '3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (32, 12, 10, 1, 90000, 0, 1000000, NULL, NULL, 1000000, '1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (33, 12, 10, 2, 180000, 0, -3000000, NULL, NULL, 1000000, '-3');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (34, 12, 10, 3, 270000, 0, -1000000, NULL, NULL, 1000000, '-1');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (35, 13, 11, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (36, 14, 12, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (37, 15, 13, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (38, 16, 14, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (39, 17, 15, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (40, 18, 16, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (41, 19, 17, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (42, 20, 18, 0, NULL, 0, 4000000, NULL, NULL, 1000000, '4');
INSERT INTO reading (id, entry_id, turn_id, rank, angle_mdeg, angle_within_mdeg, value_pm, low_pm, high_pm, step_pm, text) VALUES (43, 21, 19, 0, 120000, 15000, 7000000, 6000000, 8000000, 1000000, '6-8');
SELECT setval(pg_get_serial_sequence('reading', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM reading;
INSERT INTO strike (id, entry_id, clamping_id, turn_id, reading_id, reason) VALUES (1, 22, 18, NULL, NULL, 'misread');
INSERT INTO strike (id, entry_id, clamping_id, turn_id, reading_id, reason) VALUES (2, 22, NULL, NULL, 4, 'misread');
SELECT setval(pg_get_serial_sequence('strike', 'id'), coalesce(max(id), 1), max(id) IS NOT NULL) FROM strike;

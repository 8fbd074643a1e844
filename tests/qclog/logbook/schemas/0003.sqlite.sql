BEGIN TRANSACTION;
CREATE TABLE calibration (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	gauge_id INTEGER NOT NULL, 
	done_on TEXT DEFAULT '' NOT NULL, 
	due_on TEXT DEFAULT '' NOT NULL, 
	as_found TEXT DEFAULT '' NOT NULL, 
	as_left TEXT DEFAULT '' NOT NULL, 
	error_limit_pm INTEGER, 
	uncertainty_pm INTEGER, 
	coverage_factor REAL, 
	certificate TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_calibration PRIMARY KEY (id), 
	CONSTRAINT fk_calibration_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_calibration_gauge_id FOREIGN KEY(gauge_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "calibration" VALUES(1,1,5,'2026-01-05','2027-01-05','','',1000000,NULL,2.0,'','');
CREATE TABLE clamping (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	uuid TEXT DEFAULT '' NOT NULL, 
	item_id INTEGER NOT NULL, 
	modification_id INTEGER NOT NULL, 
	setup_revision_id INTEGER, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	sitting_id INTEGER NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	taken_at TEXT DEFAULT '' NOT NULL, 
	pin_id INTEGER, 
	diameter_pm INTEGER, 
	instrument_id INTEGER, 
	calibration_id INTEGER, 
	lever_mdeg INTEGER, 
	pin_out TEXT DEFAULT '' NOT NULL, 
	torque TEXT DEFAULT '' NOT NULL, 
	conditions TEXT DEFAULT '' NOT NULL, 
	operator TEXT DEFAULT '' NOT NULL, 
	recalled INTEGER NOT NULL, 
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
)
 STRICT

;
INSERT INTO "clamping" VALUES(1,2,'c132ad65-bc14-557a-99ca-5d33fd8a4e34',2,2,1,'A','P-65=90',1,'1','2026-03-01T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(2,3,'bf60bd73-d5be-57ee-b39a-a66d7af6563c',2,2,1,'A','P-65=90',2,'1','2026-03-02T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(3,5,'dbc56693-9df9-5ceb-94cc-db6030f0bf00',2,3,1,'A','P-65=90',3,'1','2026-03-04T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(4,6,'03ddc9d3-f28d-51d8-b1a1-ca63fef14dc2',2,3,1,'A','P-65=90',4,'1','2026-03-05T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(5,7,'edcf4caa-006e-58de-9b8c-719cc34839cb',2,3,1,'A','P-65=90',5,'1','2026-03-06T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(6,8,'4f593dc4-00a2-513b-bb38-37220113a4e4',2,3,1,'A','P-65=90',6,'1','2026-03-07T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(7,9,'e122e17a-e985-5a3d-bc30-cfaecb97d5f5',2,3,1,'A','P-65=90',7,'1','2026-03-08T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(8,10,'7b8c087a-292d-540d-8fc5-1b199941bfa2',2,3,1,'A','P-65=90',8,'1','2026-03-09T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(9,11,'541d241f-618d-534d-a045-b42bf2319945',2,3,1,'A','P-65=90',9,'1','2026-03-10T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(10,12,'f3cc64f1-4311-52e6-8667-dc2e220f3c7a',2,3,1,'A','P-65=90',10,'1','2026-03-11T11:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(11,13,'3f587b36-e35a-572b-bc62-e7a6cde6f2a8',2,3,1,'A','P-65=90',3,'2','2026-03-04T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(12,14,'b94fa0f7-71cc-5f4c-801c-e4f9b292f036',2,3,1,'A','P-65=90',4,'2','2026-03-05T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(13,15,'72c9f54d-2267-5578-91ce-2cf19e47f462',2,3,1,'A','P-65=90',5,'2','2026-03-06T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(14,16,'4f0e2738-c768-5563-ae6c-c1632a1ab947',2,3,1,'A','P-65=90',6,'2','2026-03-07T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(15,17,'3bd4a2e3-1afb-510a-9daa-4eea3bb76fca',2,3,1,'A','P-65=90',7,'2','2026-03-08T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(16,18,'6dd9eab6-0832-5e41-a9e2-c099c244ad40',2,3,1,'A','P-65=90',8,'2','2026-03-09T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(17,19,'d46c9b54-ed98-574c-8439-c96710420703',2,3,1,'A','P-65=90',9,'2','2026-03-10T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(18,20,'e6743599-ddde-5daf-a2e2-57ef3691a6a7',2,3,1,'A','P-65=90',10,'2','2026-03-11T10:00',4,6479000000,5,1,12500,'','','','',0,'');
INSERT INTO "clamping" VALUES(19,21,'72c8c068-a2ce-5383-946f-3cda957d9200',2,2,1,'B','',11,'1','2019-05',NULL,NULL,NULL,NULL,NULL,'','','','',1,'');
CREATE TABLE clamping_body (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	clamping_id INTEGER NOT NULL, 
	body_id INTEGER NOT NULL, 
	angle_mdeg INTEGER NOT NULL, 
	CONSTRAINT pk_clamping_body PRIMARY KEY (id), 
	CONSTRAINT uq_clamping_body_clamping_id_body_id UNIQUE (clamping_id, body_id), 
	CONSTRAINT fk_clamping_body_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_clamping_body_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id), 
	CONSTRAINT fk_clamping_body_body_id FOREIGN KEY(body_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "clamping_body" VALUES(1,2,1,4,90000);
INSERT INTO "clamping_body" VALUES(2,3,2,4,90000);
INSERT INTO "clamping_body" VALUES(3,5,3,4,90000);
INSERT INTO "clamping_body" VALUES(4,6,4,4,90000);
INSERT INTO "clamping_body" VALUES(5,7,5,4,90000);
INSERT INTO "clamping_body" VALUES(6,8,6,4,90000);
INSERT INTO "clamping_body" VALUES(7,9,7,4,90000);
INSERT INTO "clamping_body" VALUES(8,10,8,4,90000);
INSERT INTO "clamping_body" VALUES(9,11,9,4,90000);
INSERT INTO "clamping_body" VALUES(10,12,10,4,90000);
INSERT INTO "clamping_body" VALUES(11,13,11,4,90000);
INSERT INTO "clamping_body" VALUES(12,14,12,4,90000);
INSERT INTO "clamping_body" VALUES(13,15,13,4,90000);
INSERT INTO "clamping_body" VALUES(14,16,14,4,90000);
INSERT INTO "clamping_body" VALUES(15,17,15,4,90000);
INSERT INTO "clamping_body" VALUES(16,18,16,4,90000);
INSERT INTO "clamping_body" VALUES(17,19,17,4,90000);
INSERT INTO "clamping_body" VALUES(18,20,18,4,90000);
CREATE TABLE custody (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	direction TEXT DEFAULT '' NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	setup_id INTEGER, 
	place TEXT DEFAULT '' NOT NULL, 
	done_at TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_custody PRIMARY KEY (id), 
	CONSTRAINT ck_custody_direction CHECK (direction IN ('took', 'back')), 
	CONSTRAINT fk_custody_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_custody_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_custody_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
)
 STRICT

;
CREATE TABLE doubt (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	clamping_id INTEGER, 
	why TEXT DEFAULT '' NOT NULL, 
	typed TEXT DEFAULT '' NOT NULL, 
	answer TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_doubt PRIMARY KEY (id), 
	CONSTRAINT ck_doubt_answer CHECK (answer IN ('kept', 'withdrawn')), 
	CONSTRAINT fk_doubt_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_doubt_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_doubt_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
)
 STRICT

;
INSERT INTO "doubt" VALUES(1,22,2,4,'far off','5','kept');
CREATE TABLE entry (
	id INTEGER NOT NULL, 
	uuid TEXT DEFAULT '' NOT NULL, 
	station TEXT DEFAULT '' NOT NULL, 
	sequence INTEGER NOT NULL, 
	at_utc TEXT DEFAULT '' NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	what TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_entry PRIMARY KEY (id), 
	CONSTRAINT uq_entry_uuid UNIQUE (uuid), 
	CONSTRAINT uq_entry_station_sequence UNIQUE (station, sequence)
)
 STRICT

;
INSERT INTO "entry" VALUES(1,'1193a2dc-ea63-4095-b082-f5c4f88f6afb','bench',1,'2026-11-30T04:34:38.047Z','AK','what is owned');
INSERT INTO "entry" VALUES(2,'5377b94c-f2c8-4069-b7e8-0242a4681c3e','bench',2,'2026-11-30T04:34:38.179Z','AK','log');
INSERT INTO "entry" VALUES(3,'2122884b-753c-47c6-98e7-0350006a4425','bench',3,'2026-11-30T04:34:38.219Z','AK','log');
INSERT INTO "entry" VALUES(4,'862d9681-91fe-4ef8-8daa-3c0c5178f354','bench',4,'2026-11-30T04:34:38.231Z','AK','bored');
INSERT INTO "entry" VALUES(5,'adf0df64-af2c-4d11-adcc-c0ff1f778e61','bench',5,'2026-11-30T04:34:38.267Z','AK','log');
INSERT INTO "entry" VALUES(6,'4b1de872-e121-4b09-8287-479158307c8b','bench',6,'2026-11-30T04:34:38.297Z','AK','log');
INSERT INTO "entry" VALUES(7,'7ef9a6a1-0646-4bab-9ad3-d6327125e12c','bench',7,'2026-11-30T04:34:38.362Z','AK','log');
INSERT INTO "entry" VALUES(8,'041ac683-aab6-4709-93ae-02f1513b5b31','bench',8,'2026-11-30T04:34:38.419Z','AK','log');
INSERT INTO "entry" VALUES(9,'956afcfe-c60b-4300-b287-4a95f543f9e0','bench',9,'2026-11-30T04:34:38.481Z','AK','log');
INSERT INTO "entry" VALUES(10,'939a5d56-8813-47dc-af63-eaa866a799fb','bench',10,'2026-11-30T04:34:38.554Z','AK','log');
INSERT INTO "entry" VALUES(11,'564aabfe-2a6c-46ef-838f-28a51cf74b3e','bench',11,'2026-11-30T04:34:38.595Z','AK','log');
INSERT INTO "entry" VALUES(12,'b7e0089b-62c2-4027-bdc7-53576076f117','bench',12,'2026-11-30T04:34:38.654Z','AK','log');
INSERT INTO "entry" VALUES(13,'860cbb4a-a6ed-42a4-ae91-924a00154207','bench',13,'2026-11-30T04:34:38.703Z','AK','log');
INSERT INTO "entry" VALUES(14,'72268bb7-0cd5-40a0-8442-a28070158600','bench',14,'2026-11-30T04:34:38.717Z','AK','log');
INSERT INTO "entry" VALUES(15,'d8e887a0-1a8f-4e14-adc1-99d992c6e141','bench',15,'2026-11-30T04:34:38.750Z','AK','log');
INSERT INTO "entry" VALUES(16,'73cb6fed-c2b2-46df-8a8d-0d5829dac982','bench',16,'2026-11-30T04:34:38.786Z','AK','log');
INSERT INTO "entry" VALUES(17,'94a97268-1ee3-4b91-8a21-f987643edb42','bench',17,'2026-11-30T04:34:38.826Z','AK','log');
INSERT INTO "entry" VALUES(18,'b29b2749-7328-46a5-8358-5f81b2355fbd','bench',18,'2026-11-30T04:34:38.862Z','AK','log');
INSERT INTO "entry" VALUES(19,'16187565-fb3e-4c41-8e53-f5cc4352092c','bench',19,'2026-11-30T04:34:38.895Z','AK','log');
INSERT INTO "entry" VALUES(20,'6b010de5-82d9-4bfa-9d7d-e3153902e972','bench',20,'2026-11-30T04:34:38.919Z','AK','log');
INSERT INTO "entry" VALUES(21,'10cb3221-2ca9-4d06-a1ed-6ca773dcfc93','bench',21,'2026-11-30T04:34:38.937Z','AK','log');
INSERT INTO "entry" VALUES(22,'5924fab3-9df3-464b-b735-d517f8fcac29','bench',22,'2026-11-30T04:34:38.961Z','AK','mistakes');
CREATE TABLE entry_digest (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	previous TEXT DEFAULT '' NOT NULL, 
	digest TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_entry_digest PRIMARY KEY (id), 
	CONSTRAINT uq_entry_digest_entry_id UNIQUE (entry_id), 
	CONSTRAINT fk_entry_digest_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
)
 STRICT

;
INSERT INTO "entry_digest" VALUES(1,1,'','dd6456a8f78e2f5dd4352d1065b2ff86d3e1e7a00127c881a935297893876488');
INSERT INTO "entry_digest" VALUES(2,2,'dd6456a8f78e2f5dd4352d1065b2ff86d3e1e7a00127c881a935297893876488','c3b91771143a4190418b733aca54c6396e46dcf641c798924105fc8a3a2e47ef');
INSERT INTO "entry_digest" VALUES(3,3,'c3b91771143a4190418b733aca54c6396e46dcf641c798924105fc8a3a2e47ef','f7f5b359292e34c16b0f59ef02d92da8d3b4fb98fc23f0c24434a9b6075e411d');
INSERT INTO "entry_digest" VALUES(4,4,'f7f5b359292e34c16b0f59ef02d92da8d3b4fb98fc23f0c24434a9b6075e411d','d916e5511e217118ad45bc24973990ea2a46c968f9f5f9a8aa09448e6b27fde9');
INSERT INTO "entry_digest" VALUES(5,5,'d916e5511e217118ad45bc24973990ea2a46c968f9f5f9a8aa09448e6b27fde9','e1dc5c7306401845400d4dde6020fe0b5fc062a9ce4538ec623acd2166007aa8');
INSERT INTO "entry_digest" VALUES(6,6,'e1dc5c7306401845400d4dde6020fe0b5fc062a9ce4538ec623acd2166007aa8','77e2f377a906ecec22c84ebc9063c37c879c182f419c0bc81805b3cbd6f7714b');
INSERT INTO "entry_digest" VALUES(7,7,'77e2f377a906ecec22c84ebc9063c37c879c182f419c0bc81805b3cbd6f7714b','2bc815ad45cfdaddb74d10a399d981ea42fb5f97516a902504cfb19cfc6b49f7');
INSERT INTO "entry_digest" VALUES(8,8,'2bc815ad45cfdaddb74d10a399d981ea42fb5f97516a902504cfb19cfc6b49f7','75e2a76e430e6026f2146b383efc7c2ff0bef586dec5ff478748d140232ad5a4');
INSERT INTO "entry_digest" VALUES(9,9,'75e2a76e430e6026f2146b383efc7c2ff0bef586dec5ff478748d140232ad5a4','b2aa150b78fbaa79961698e49bbee1ba744e0b1df89c4ed70148c4e93b67b534');
INSERT INTO "entry_digest" VALUES(10,10,'b2aa150b78fbaa79961698e49bbee1ba744e0b1df89c4ed70148c4e93b67b534','cc737ecd9a04c637915c9dad4cb10a4173216004ea31f973567851801edee3d1');
INSERT INTO "entry_digest" VALUES(11,11,'cc737ecd9a04c637915c9dad4cb10a4173216004ea31f973567851801edee3d1','e0a63b03123da2fd876e322835a2227f83edc8942cb5514f8c317b498214e097');
INSERT INTO "entry_digest" VALUES(12,12,'e0a63b03123da2fd876e322835a2227f83edc8942cb5514f8c317b498214e097','b6006242fb0f7c80b6f5765feca0d0eb4010300f539028406d6545c346aa0da8');
INSERT INTO "entry_digest" VALUES(13,13,'b6006242fb0f7c80b6f5765feca0d0eb4010300f539028406d6545c346aa0da8','3270f0a4047ef8567eabc1d59e4a908dafdabad3114137a5b9d8b707ecb67e4c');
INSERT INTO "entry_digest" VALUES(14,14,'3270f0a4047ef8567eabc1d59e4a908dafdabad3114137a5b9d8b707ecb67e4c','a61630970707ce01109a2ecd88004908b29bee81bd07c48975f7fffc52363320');
INSERT INTO "entry_digest" VALUES(15,15,'a61630970707ce01109a2ecd88004908b29bee81bd07c48975f7fffc52363320','2bf357a4de23c0e7c19efbf177dae1d9464f2461d375f25c42bbf088a9d4de7d');
INSERT INTO "entry_digest" VALUES(16,16,'2bf357a4de23c0e7c19efbf177dae1d9464f2461d375f25c42bbf088a9d4de7d','a7b45e6e6023f7c16e1ff9be6c481511e59726423bc623ce611a3d210dfcde0c');
INSERT INTO "entry_digest" VALUES(17,17,'a7b45e6e6023f7c16e1ff9be6c481511e59726423bc623ce611a3d210dfcde0c','f76f28e278fe28b58d1b1b9b57f632c1b8c583979483badb658024cb43181694');
INSERT INTO "entry_digest" VALUES(18,18,'f76f28e278fe28b58d1b1b9b57f632c1b8c583979483badb658024cb43181694','1735a57d27abc58eb97a082165b19ccfd293b604be3c95c86e81ccf2cfd15a3a');
INSERT INTO "entry_digest" VALUES(19,19,'1735a57d27abc58eb97a082165b19ccfd293b604be3c95c86e81ccf2cfd15a3a','40d2db37c6758e066748177767b7523625bcea7a02d959ce3d25c4a74e8a1395');
INSERT INTO "entry_digest" VALUES(20,20,'40d2db37c6758e066748177767b7523625bcea7a02d959ce3d25c4a74e8a1395','9946c7ae88871875c2fb50e702c468a8c3c82390ec37a2630573f17203afe08c');
INSERT INTO "entry_digest" VALUES(21,21,'9946c7ae88871875c2fb50e702c468a8c3c82390ec37a2630573f17203afe08c','647592bc4d48c0f063565537d450bbc5eef6e9b99dafe5002a413ee6e63d2b0a');
INSERT INTO "entry_digest" VALUES(22,22,'647592bc4d48c0f063565537d450bbc5eef6e9b99dafe5002a413ee6e63d2b0a','9e1edc6ced6babd3b82deee57653a34d8c82d94c5de7cfe90a28413b80232268');
CREATE TABLE figure (
	turn_id INTEGER NOT NULL, 
	series_id INTEGER NOT NULL, 
	clamping_id INTEGER NOT NULL, 
	sitting_id INTEGER NOT NULL, 
	gauging_id INTEGER NOT NULL, 
	taken_order INTEGER NOT NULL, 
	recalled INTEGER NOT NULL, 
	step_pm INTEGER NOT NULL, 
	value_um REAL NOT NULL, 
	eccentricity_x_um REAL, 
	eccentricity_y_um REAL, 
	angle_within_mdeg INTEGER NOT NULL, 
	residual_sd_um REAL, 
	residual_df INTEGER NOT NULL, 
	method INTEGER NOT NULL, 
	CONSTRAINT pk_figure PRIMARY KEY (turn_id)
)
 STRICT

;
INSERT INTO "figure" VALUES(1,1,1,1,1,20260301100000,0,1000000,1.26918480925591339316e+01,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(2,1,2,2,1,20260302100000,0,1000000,1.36681440996790684041e+01,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(3,2,3,3,1,20260304110000,0,1000000,4.36612566211544,1.95259201423986694656e+00,9.76296007119932918172e-01,0,NULL,0,1);
INSERT INTO "figure" VALUES(4,2,4,4,1,20260305110000,0,1000000,6.17463412638886222083e+00,2.92888802135979897656e+00,9.7629600711993280715e-01,0,1.3322676295501878485e-15,1,1);
INSERT INTO "figure" VALUES(5,2,5,5,1,20260306110000,0,1000000,2.76138210831941854905e+00,0.976296007119933,9.76296007119933140216e-01,0,5.66104886700367570129e-16,1,1);
INSERT INTO "figure" VALUES(6,2,6,6,1,20260307110000,0,1000000,4.3661256621154391766e+00,1.95259201423986628043e+00,0.976296007119933,0,8.38200002214545250231e-16,1,1);
INSERT INTO "figure" VALUES(7,2,7,7,1,20260308110000,0,1000000,6.17463412638886222083e+00,2.92888802135979897656e+00,9.7629600711993280715e-01,0,1.3322676295501878485e-15,1,1);
INSERT INTO "figure" VALUES(8,2,8,8,1,20260309110000,0,1000000,2.76138210831941854905e+00,0.976296007119933,9.76296007119933140216e-01,0,5.66104886700367570129e-16,1,1);
INSERT INTO "figure" VALUES(9,2,9,9,1,20260310110000,0,1000000,4.3661256621154391766e+00,1.95259201423986628043e+00,0.976296007119933,0,8.38200002214545250231e-16,1,1);
INSERT INTO "figure" VALUES(10,2,10,10,1,20260311110000,0,1000000,6.17463412638886222083e+00,2.92888802135979897656e+00,9.7629600711993280715e-01,0,1.3322676295501878485e-15,1,1);
INSERT INTO "figure" VALUES(11,2,11,3,1,20260304100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(12,2,12,4,1,20260305100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(13,2,13,5,1,20260306100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(14,2,14,6,1,20260307100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(15,2,15,7,1,20260308100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(16,2,16,8,1,20260309100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(17,2,17,9,1,20260310100000,0,1000000,3.90518402847973344904e+00,NULL,NULL,0,NULL,0,1);
INSERT INTO "figure" VALUES(19,3,19,11,2,20190500000000,1,1000000,7.0,-1.74999999999999911182e+00,3.03108891324553564317e+00,15000,NULL,0,1);
CREATE TABLE gauge_recall (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	gauge_id INTEGER NOT NULL, 
	found_at TEXT DEFAULT '' NOT NULL, 
	found TEXT DEFAULT '' NOT NULL, 
	since TEXT DEFAULT '' NOT NULL, 
	read_pm INTEGER, 
	true_pm INTEGER, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_gauge_recall PRIMARY KEY (id), 
	CONSTRAINT ck_gauge_recall_found CHECK (found <> ''), 
	CONSTRAINT ck_gauge_recall_both CHECK ((read_pm IS NULL) = (true_pm IS NULL)), 
	CONSTRAINT ck_gauge_recall_above_zero CHECK (read_pm IS NULL OR (read_pm > 0 AND true_pm > 0)), 
	CONSTRAINT fk_gauge_recall_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_gauge_recall_gauge_id FOREIGN KEY(gauge_id) REFERENCES name (id)
)
 STRICT

;
CREATE TABLE gauging (
	id INTEGER NOT NULL, 
	instrument_id INTEGER NOT NULL, 
	calibration_id INTEGER NOT NULL, 
	pin_id INTEGER NOT NULL, 
	lever_mdeg INTEGER NOT NULL, 
	CONSTRAINT pk_gauging PRIMARY KEY (id), 
	CONSTRAINT uq_gauging_instrument_id_calibration_id_pin_id_lever_mdeg UNIQUE (instrument_id, calibration_id, pin_id, lever_mdeg)
)
 STRICT

;
INSERT INTO "gauging" VALUES(1,5,1,4,12500);
INSERT INTO "gauging" VALUES(2,0,0,0,-1);
CREATE TABLE inspection (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	seen_on TEXT DEFAULT '' NOT NULL, 
	finding TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_inspection PRIMARY KEY (id), 
	CONSTRAINT ck_inspection_finding CHECK (finding IN ('crack', 'blue', 'bell-mouth', 'lost spring', 'slip', 'sound')), 
	CONSTRAINT fk_inspection_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_inspection_item_id FOREIGN KEY(item_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "inspection" VALUES(1,4,2,'2026-03-03','sound','');
CREATE TABLE instrument_card (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	instrument_id INTEGER NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	unit TEXT DEFAULT '' NOT NULL, 
	division_pm INTEGER NOT NULL, 
	range_pm INTEGER, 
	correct_at_mdeg INTEGER NOT NULL, 
	serial TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_instrument_card PRIMARY KEY (id), 
	CONSTRAINT ck_instrument_card_division CHECK (division_pm > 0), 
	CONSTRAINT ck_instrument_card_kind CHECK (kind IN ('lever', 'plunger', 'electronic', 'other')), 
	CONSTRAINT fk_instrument_card_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_instrument_card_instrument_id FOREIGN KEY(instrument_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "instrument_card" VALUES(1,1,5,'lever','um',1000000,NULL,0,'','');
CREATE TABLE item_card (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	system TEXT DEFAULT '' NOT NULL, 
	nominal_pm INTEGER, 
	bore_pm INTEGER, 
	range_low_pm INTEGER, 
	range_high_pm INTEGER, 
	grip_length_pm INTEGER, 
	slots INTEGER, 
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
)
 STRICT

;
INSERT INTO "item_card" VALUES(1,1,1,'spindle','',NULL,NULL,NULL,NULL,NULL,NULL,'','','','','','');
INSERT INTO "item_card" VALUES(2,1,2,'collet','',NULL,6500000000,NULL,NULL,NULL,NULL,'','','','','','ø 6,5 "soft"; spare');
CREATE TABLE item_state (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	state TEXT DEFAULT '' NOT NULL, 
	limit_pm INTEGER, 
	since TEXT DEFAULT '' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_item_state PRIMARY KEY (id), 
	CONSTRAINT ck_item_state_state CHECK (state IN ('in service', 'restricted', 'out', 'scrap')), 
	CONSTRAINT fk_item_state_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_item_state_item_id FOREIGN KEY(item_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "item_state" VALUES(1,4,2,'in service',NULL,'2026-03-04','trial');
CREATE TABLE made_to (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	body_id INTEGER NOT NULL, 
	modification_number INTEGER NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	distance_pm INTEGER NOT NULL, 
	setup_id INTEGER, 
	position TEXT DEFAULT '' NOT NULL, 
	upper_pm INTEGER, 
	lower_pm INTEGER, 
	text TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_made_to PRIMARY KEY (id), 
	CONSTRAINT ck_made_to_some_limit CHECK (upper_pm IS NOT NULL OR lower_pm IS NOT NULL), 
	CONSTRAINT fk_made_to_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_made_to_body_id FOREIGN KEY(body_id) REFERENCES name (id), 
	CONSTRAINT fk_made_to_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "made_to" VALUES(1,4,2,1,'runout',16000000000,NULL,'',9000000,NULL,'');
CREATE TABLE modification (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	done_at TEXT DEFAULT '' NOT NULL, 
	what TEXT DEFAULT '' NOT NULL, 
	size_before_pm INTEGER, 
	size_pm INTEGER, 
	wall_pm INTEGER, 
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
)
 STRICT

;
INSERT INTO "modification" VALUES(1,1,1,0,'','as received',NULL,NULL,NULL,'','','','','','');
INSERT INTO "modification" VALUES(2,1,2,0,'','as received',NULL,6500000000,NULL,'','','','','','');
INSERT INTO "modification" VALUES(3,4,2,1,'2026-03-03','bored',NULL,NULL,NULL,'','','','','','');
CREATE TABLE name (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	folded TEXT DEFAULT '' NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_name PRIMARY KEY (id), 
	CONSTRAINT uq_name_folded UNIQUE (folded), 
	CONSTRAINT ck_name_not_empty CHECK (text <> ''), 
	CONSTRAINT ck_name_kind CHECK (kind IN ('item', 'setup', 'pin', 'instrument')), 
	CONSTRAINT fk_name_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
)
 STRICT

;
INSERT INTO "name" VALUES(1,1,'s-1','S-1','item');
INSERT INTO "name" VALUES(2,1,'c-046','C-046','item');
INSERT INTO "name" VALUES(3,1,'lathe','LATHE','setup');
INSERT INTO "name" VALUES(4,1,'p-65','P-65','pin');
INSERT INTO "name" VALUES(5,1,'d-1','D-1','instrument');
CREATE TABLE pin_card (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	pin_id INTEGER NOT NULL, 
	diameter_pm INTEGER NOT NULL, 
	roundness_pm INTEGER, 
	kind TEXT DEFAULT '' NOT NULL, 
	grade TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_pin_card PRIMARY KEY (id), 
	CONSTRAINT ck_pin_card_diameter CHECK (diameter_pm > 0), 
	CONSTRAINT fk_pin_card_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_pin_card_pin_id FOREIGN KEY(pin_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "pin_card" VALUES(1,1,4,6479000000,300000,'pin','h4','');
CREATE TABLE reading (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	turn_id INTEGER NOT NULL, 
	rank INTEGER NOT NULL, 
	angle_mdeg INTEGER, 
	angle_within_mdeg INTEGER NOT NULL, 
	value_pm INTEGER NOT NULL, 
	low_pm INTEGER, 
	high_pm INTEGER, 
	step_pm INTEGER NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT uq_reading_turn_id_rank UNIQUE (turn_id, rank), 
	CONSTRAINT fk_reading_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_reading_turn_id FOREIGN KEY(turn_id) REFERENCES turn (id)
)
 STRICT

;
INSERT INTO "reading" VALUES(1,2,1,0,NULL,0,13000000,NULL,NULL,1000000,'13');
INSERT INTO "reading" VALUES(2,3,2,0,NULL,0,14000000,NULL,NULL,1000000,'14');
INSERT INTO "reading" VALUES(3,5,3,0,0,0,2000000,NULL,NULL,1000000,'2');
INSERT INTO "reading" VALUES(4,5,3,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(5,5,3,2,180000,0,-2000000,NULL,NULL,1000000,'-2');
INSERT INTO "reading" VALUES(6,5,3,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(7,6,4,0,0,0,3000000,NULL,NULL,1000000,'3');
INSERT INTO "reading" VALUES(8,6,4,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(9,6,4,2,180000,0,-3000000,NULL,NULL,1000000,'-3');
INSERT INTO "reading" VALUES(10,6,4,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(11,7,5,0,0,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(12,7,5,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(13,7,5,2,180000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(14,7,5,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(15,8,6,0,0,0,2000000,NULL,NULL,1000000,'2');
INSERT INTO "reading" VALUES(16,8,6,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(17,8,6,2,180000,0,-2000000,NULL,NULL,1000000,'-2');
INSERT INTO "reading" VALUES(18,8,6,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(19,9,7,0,0,0,3000000,NULL,NULL,1000000,'3');
INSERT INTO "reading" VALUES(20,9,7,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(21,9,7,2,180000,0,-3000000,NULL,NULL,1000000,'-3');
INSERT INTO "reading" VALUES(22,9,7,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(23,10,8,0,0,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(24,10,8,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(25,10,8,2,180000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(26,10,8,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(27,11,9,0,0,0,2000000,NULL,NULL,1000000,'2');
INSERT INTO "reading" VALUES(28,11,9,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(29,11,9,2,180000,0,-2000000,NULL,NULL,1000000,'-2');
INSERT INTO "reading" VALUES(30,11,9,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(31,12,10,0,0,0,3000000,NULL,NULL,1000000,'3');
INSERT INTO "reading" VALUES(32,12,10,1,90000,0,1000000,NULL,NULL,1000000,'1');
INSERT INTO "reading" VALUES(33,12,10,2,180000,0,-3000000,NULL,NULL,1000000,'-3');
INSERT INTO "reading" VALUES(34,12,10,3,270000,0,-1000000,NULL,NULL,1000000,'-1');
INSERT INTO "reading" VALUES(35,13,11,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(36,14,12,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(37,15,13,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(38,16,14,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(39,17,15,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(40,18,16,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(41,19,17,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(42,20,18,0,NULL,0,4000000,NULL,NULL,1000000,'4');
INSERT INTO "reading" VALUES(43,21,19,0,120000,15000,7000000,6000000,8000000,1000000,'6-8');
CREATE TABLE recall_clearing (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	recall_id INTEGER NOT NULL, 
	clamping_id INTEGER, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_recall_clearing PRIMARY KEY (id), 
	CONSTRAINT ck_recall_clearing_reason CHECK (reason <> ''), 
	CONSTRAINT fk_recall_clearing_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_recall_clearing_recall_id FOREIGN KEY(recall_id) REFERENCES gauge_recall (id), 
	CONSTRAINT fk_recall_clearing_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
)
 STRICT

;
CREATE TABLE schema_revision (
	version_num TEXT NOT NULL, 
	CONSTRAINT pk_schema_revision PRIMARY KEY (version_num)
)
 STRICT

;
INSERT INTO "schema_revision" VALUES('0003');
CREATE TABLE series (
	id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	modification_id INTEGER NOT NULL, 
	setup_revision_id INTEGER NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	diameter_tenths INTEGER NOT NULL, 
	distance_tenths INTEGER NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_series PRIMARY KEY (id), 
	CONSTRAINT uq_series_key UNIQUE (item_id, modification_id, setup_revision_id, position, clocking, diameter_tenths, distance_tenths, characteristic)
)
 STRICT

;
INSERT INTO "series" VALUES(1,2,2,1,'A','P-65=90',65,160,'runout');
INSERT INTO "series" VALUES(2,2,3,1,'A','P-65=90',65,160,'runout');
INSERT INTO "series" VALUES(3,2,2,1,'B','',-1,160,'runout');
CREATE TABLE setting (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	"key" TEXT DEFAULT '' NOT NULL, 
	value TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setting PRIMARY KEY (id), 
	CONSTRAINT fk_setting_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
)
 STRICT

;
INSERT INTO "setting" VALUES(1,1,'unit','um');
CREATE TABLE setup_link (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	revision_id INTEGER NOT NULL, 
	rank INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	modification_id INTEGER NOT NULL, 
	clocking_mdeg INTEGER, 
	CONSTRAINT pk_setup_link PRIMARY KEY (id), 
	CONSTRAINT uq_setup_link_revision_id_rank UNIQUE (revision_id, rank), 
	CONSTRAINT fk_setup_link_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_link_revision_id FOREIGN KEY(revision_id) REFERENCES setup_revision (id), 
	CONSTRAINT fk_setup_link_item_id FOREIGN KEY(item_id) REFERENCES name (id), 
	CONSTRAINT fk_setup_link_modification_id FOREIGN KEY(modification_id) REFERENCES modification (id)
)
 STRICT

;
INSERT INTO "setup_link" VALUES(1,1,1,1,1,1,NULL);
CREATE TABLE setup_position (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	setup_id INTEGER NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setup_position PRIMARY KEY (id), 
	CONSTRAINT uq_setup_position_setup_id_position UNIQUE (setup_id, position), 
	CONSTRAINT fk_setup_position_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_position_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "setup_position" VALUES(1,1,3,'A');
INSERT INTO "setup_position" VALUES(2,1,3,'B');
CREATE TABLE setup_revision (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	setup_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	since TEXT DEFAULT '' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	sense TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_setup_revision PRIMARY KEY (id), 
	CONSTRAINT uq_setup_revision_setup_id_number UNIQUE (setup_id, number), 
	CONSTRAINT ck_setup_revision_number CHECK (number >= 1), 
	CONSTRAINT ck_setup_revision_sense CHECK (sense IN ('clockwise', 'counterclockwise')), 
	CONSTRAINT fk_setup_revision_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_setup_revision_setup_id FOREIGN KEY(setup_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "setup_revision" VALUES(1,1,3,1,'','as first written down','clockwise');
CREATE TABLE sitting (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_sitting PRIMARY KEY (id), 
	CONSTRAINT uq_sitting_label UNIQUE (label), 
	CONSTRAINT fk_sitting_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
)
 STRICT

;
INSERT INTO "sitting" VALUES(1,2,'2026-03-01');
INSERT INTO "sitting" VALUES(2,3,'2026-03-02');
INSERT INTO "sitting" VALUES(3,5,'2026-03-04');
INSERT INTO "sitting" VALUES(4,6,'2026-03-05');
INSERT INTO "sitting" VALUES(5,7,'2026-03-06');
INSERT INTO "sitting" VALUES(6,8,'2026-03-07');
INSERT INTO "sitting" VALUES(7,9,'2026-03-08');
INSERT INTO "sitting" VALUES(8,10,'2026-03-09');
INSERT INTO "sitting" VALUES(9,11,'2026-03-10');
INSERT INTO "sitting" VALUES(10,12,'2026-03-11');
INSERT INTO "sitting" VALUES(11,21,'2019-05');
CREATE TABLE statement (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	issued_at TEXT DEFAULT '' NOT NULL, 
	receiver TEXT DEFAULT '' NOT NULL, 
	issuer TEXT DEFAULT '' NOT NULL, 
	item_id INTEGER NOT NULL, 
	modification_id INTEGER NOT NULL, 
	setup_revision_id INTEGER, 
	position TEXT DEFAULT '' NOT NULL, 
	clocking TEXT DEFAULT '' NOT NULL, 
	diameter_tenths INTEGER NOT NULL, 
	distance_tenths INTEGER NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	verdict TEXT DEFAULT '' NOT NULL, 
	limit_pm INTEGER NOT NULL, 
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
)
 STRICT

;
CREATE TABLE statement_clamping (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	statement_id INTEGER NOT NULL, 
	clamping_id INTEGER NOT NULL, 
	CONSTRAINT pk_statement_clamping PRIMARY KEY (id), 
	CONSTRAINT uq_statement_clamping_statement_id_clamping_id UNIQUE (statement_id, clamping_id), 
	CONSTRAINT fk_statement_clamping_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_statement_clamping_statement_id FOREIGN KEY(statement_id) REFERENCES statement (id), 
	CONSTRAINT fk_statement_clamping_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
)
 STRICT

;
CREATE TABLE strike (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	clamping_id INTEGER, 
	turn_id INTEGER, 
	reading_id INTEGER, 
	reason TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_strike PRIMARY KEY (id), 
	CONSTRAINT ck_strike_one_thing CHECK ((CASE WHEN clamping_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN turn_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN reading_id IS NULL THEN 0 ELSE 1 END) = 1), 
	CONSTRAINT ck_strike_reason CHECK (reason <> ''), 
	CONSTRAINT fk_strike_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_strike_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id), 
	CONSTRAINT fk_strike_turn_id FOREIGN KEY(turn_id) REFERENCES turn (id), 
	CONSTRAINT fk_strike_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id)
)
 STRICT

;
INSERT INTO "strike" VALUES(1,22,18,NULL,NULL,'misread');
INSERT INTO "strike" VALUES(2,22,NULL,NULL,4,'misread');
CREATE TABLE turn (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	clamping_id INTEGER NOT NULL, 
	label TEXT DEFAULT '' NOT NULL, 
	distance_pm INTEGER NOT NULL, 
	characteristic TEXT DEFAULT '' NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	closure_pm INTEGER, 
	CONSTRAINT pk_turn PRIMARY KEY (id), 
	CONSTRAINT ck_turn_kind CHECK (kind IN ('tir', 'point', 'value')), 
	CONSTRAINT fk_turn_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_turn_clamping_id FOREIGN KEY(clamping_id) REFERENCES clamping (id)
)
 STRICT

;
INSERT INTO "turn" VALUES(1,2,1,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(2,3,2,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(3,5,3,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(4,6,4,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(5,7,5,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(6,8,6,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(7,9,7,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(8,10,8,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(9,11,9,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(10,12,10,'',16000000000,'runout','point',NULL);
INSERT INTO "turn" VALUES(11,13,11,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(12,14,12,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(13,15,13,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(14,16,14,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(15,17,15,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(16,18,16,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(17,19,17,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(18,20,18,'',16000000000,'runout','tir',NULL);
INSERT INTO "turn" VALUES(19,21,19,'',16000000000,'runout','tir',NULL);
CREATE TABLE use_record (
	id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	item_id INTEGER NOT NULL, 
	used_on TEXT DEFAULT '' NOT NULL, 
	clampings INTEGER, 
	hours REAL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_use_record PRIMARY KEY (id), 
	CONSTRAINT fk_use_record_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_use_record_item_id FOREIGN KEY(item_id) REFERENCES name (id)
)
 STRICT

;
INSERT INTO "use_record" VALUES(1,4,2,'2026-03-04',120,3.00000000000000044408e-01,'');
CREATE INDEX ix_figure_series_id ON figure (series_id);
CREATE INDEX ix_figure_clamping_id ON figure (clamping_id);
CREATE INDEX ix_item_card_item_id ON item_card (item_id);
CREATE INDEX ix_item_state_item_id ON item_state (item_id);
CREATE INDEX ix_pin_card_pin_id ON pin_card (pin_id);
CREATE INDEX ix_instrument_card_instrument_id ON instrument_card (instrument_id);
CREATE INDEX ix_calibration_gauge_id ON calibration (gauge_id);
CREATE INDEX ix_made_to_body_id ON made_to (body_id);
CREATE INDEX ix_use_record_item_id ON use_record (item_id);
CREATE INDEX ix_inspection_item_id ON inspection (item_id);
CREATE INDEX ix_custody_item_id ON custody (item_id);
CREATE INDEX ix_gauge_recall_gauge_id ON gauge_recall (gauge_id);
CREATE INDEX ix_clamping_item_id ON clamping (item_id);
CREATE INDEX ix_statement_item_id ON statement (item_id);
CREATE INDEX ix_turn_clamping_id ON turn (clamping_id);
CREATE INDEX ix_recall_clearing_recall_id ON recall_clearing (recall_id);
CREATE INDEX ix_statement_clamping_clamping_id ON statement_clamping (clamping_id);
CREATE INDEX ix_strike_turn_id ON strike (turn_id);
CREATE INDEX ix_strike_reading_id ON strike (reading_id);
CREATE INDEX ix_strike_clamping_id ON strike (clamping_id);
CREATE TRIGGER entry_keeps_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'facts are only added: entry'); END;
CREATE TRIGGER entry_keeps_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'facts are only added: entry'); END;
CREATE TRIGGER entry_keeps_replace BEFORE INSERT ON entry WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM entry WHERE station = NEW.station AND sequence = NEW.sequence) OR EXISTS (SELECT 1 FROM entry WHERE uuid = NEW.uuid) BEGIN SELECT RAISE(ABORT, 'facts are only added: entry'); END;
CREATE TRIGGER setting_keeps_update BEFORE UPDATE ON setting BEGIN SELECT RAISE(ABORT, 'facts are only added: setting'); END;
CREATE TRIGGER setting_keeps_delete BEFORE DELETE ON setting BEGIN SELECT RAISE(ABORT, 'facts are only added: setting'); END;
CREATE TRIGGER setting_keeps_replace BEFORE INSERT ON setting WHEN EXISTS (SELECT 1 FROM setting WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: setting'); END;
CREATE TRIGGER name_keeps_update BEFORE UPDATE ON name BEGIN SELECT RAISE(ABORT, 'facts are only added: name'); END;
CREATE TRIGGER name_keeps_delete BEFORE DELETE ON name BEGIN SELECT RAISE(ABORT, 'facts are only added: name'); END;
CREATE TRIGGER name_keeps_replace BEFORE INSERT ON name WHEN EXISTS (SELECT 1 FROM name WHERE folded = NEW.folded) OR EXISTS (SELECT 1 FROM name WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: name'); END;
CREATE TRIGGER item_card_keeps_update BEFORE UPDATE ON item_card BEGIN SELECT RAISE(ABORT, 'facts are only added: item_card'); END;
CREATE TRIGGER item_card_keeps_delete BEFORE DELETE ON item_card BEGIN SELECT RAISE(ABORT, 'facts are only added: item_card'); END;
CREATE TRIGGER item_card_keeps_replace BEFORE INSERT ON item_card WHEN EXISTS (SELECT 1 FROM item_card WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: item_card'); END;
CREATE TRIGGER item_state_keeps_update BEFORE UPDATE ON item_state BEGIN SELECT RAISE(ABORT, 'facts are only added: item_state'); END;
CREATE TRIGGER item_state_keeps_delete BEFORE DELETE ON item_state BEGIN SELECT RAISE(ABORT, 'facts are only added: item_state'); END;
CREATE TRIGGER item_state_keeps_replace BEFORE INSERT ON item_state WHEN EXISTS (SELECT 1 FROM item_state WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: item_state'); END;
CREATE TRIGGER modification_keeps_update BEFORE UPDATE ON modification BEGIN SELECT RAISE(ABORT, 'facts are only added: modification'); END;
CREATE TRIGGER modification_keeps_delete BEFORE DELETE ON modification BEGIN SELECT RAISE(ABORT, 'facts are only added: modification'); END;
CREATE TRIGGER modification_keeps_replace BEFORE INSERT ON modification WHEN EXISTS (SELECT 1 FROM modification WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM modification WHERE item_id = NEW.item_id AND number = NEW.number) BEGIN SELECT RAISE(ABORT, 'facts are only added: modification'); END;
CREATE TRIGGER pin_card_keeps_update BEFORE UPDATE ON pin_card BEGIN SELECT RAISE(ABORT, 'facts are only added: pin_card'); END;
CREATE TRIGGER pin_card_keeps_delete BEFORE DELETE ON pin_card BEGIN SELECT RAISE(ABORT, 'facts are only added: pin_card'); END;
CREATE TRIGGER pin_card_keeps_replace BEFORE INSERT ON pin_card WHEN EXISTS (SELECT 1 FROM pin_card WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: pin_card'); END;
CREATE TRIGGER instrument_card_keeps_update BEFORE UPDATE ON instrument_card BEGIN SELECT RAISE(ABORT, 'facts are only added: instrument_card'); END;
CREATE TRIGGER instrument_card_keeps_delete BEFORE DELETE ON instrument_card BEGIN SELECT RAISE(ABORT, 'facts are only added: instrument_card'); END;
CREATE TRIGGER instrument_card_keeps_replace BEFORE INSERT ON instrument_card WHEN EXISTS (SELECT 1 FROM instrument_card WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: instrument_card'); END;
CREATE TRIGGER calibration_keeps_update BEFORE UPDATE ON calibration BEGIN SELECT RAISE(ABORT, 'facts are only added: calibration'); END;
CREATE TRIGGER calibration_keeps_delete BEFORE DELETE ON calibration BEGIN SELECT RAISE(ABORT, 'facts are only added: calibration'); END;
CREATE TRIGGER calibration_keeps_replace BEFORE INSERT ON calibration WHEN EXISTS (SELECT 1 FROM calibration WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: calibration'); END;
CREATE TRIGGER setup_position_keeps_update BEFORE UPDATE ON setup_position BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_position'); END;
CREATE TRIGGER setup_position_keeps_delete BEFORE DELETE ON setup_position BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_position'); END;
CREATE TRIGGER setup_position_keeps_replace BEFORE INSERT ON setup_position WHEN EXISTS (SELECT 1 FROM setup_position WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM setup_position WHERE setup_id = NEW.setup_id AND position = NEW.position) BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_position'); END;
CREATE TRIGGER setup_revision_keeps_update BEFORE UPDATE ON setup_revision BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_revision'); END;
CREATE TRIGGER setup_revision_keeps_delete BEFORE DELETE ON setup_revision BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_revision'); END;
CREATE TRIGGER setup_revision_keeps_replace BEFORE INSERT ON setup_revision WHEN EXISTS (SELECT 1 FROM setup_revision WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM setup_revision WHERE setup_id = NEW.setup_id AND number = NEW.number) BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_revision'); END;
CREATE TRIGGER setup_link_keeps_update BEFORE UPDATE ON setup_link BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_link'); END;
CREATE TRIGGER setup_link_keeps_delete BEFORE DELETE ON setup_link BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_link'); END;
CREATE TRIGGER setup_link_keeps_replace BEFORE INSERT ON setup_link WHEN EXISTS (SELECT 1 FROM setup_link WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM setup_link WHERE revision_id = NEW.revision_id AND rank = NEW.rank) BEGIN SELECT RAISE(ABORT, 'facts are only added: setup_link'); END;
CREATE TRIGGER made_to_keeps_update BEFORE UPDATE ON made_to BEGIN SELECT RAISE(ABORT, 'facts are only added: made_to'); END;
CREATE TRIGGER made_to_keeps_delete BEFORE DELETE ON made_to BEGIN SELECT RAISE(ABORT, 'facts are only added: made_to'); END;
CREATE TRIGGER made_to_keeps_replace BEFORE INSERT ON made_to WHEN EXISTS (SELECT 1 FROM made_to WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: made_to'); END;
CREATE TRIGGER use_record_keeps_update BEFORE UPDATE ON use_record BEGIN SELECT RAISE(ABORT, 'facts are only added: use_record'); END;
CREATE TRIGGER use_record_keeps_delete BEFORE DELETE ON use_record BEGIN SELECT RAISE(ABORT, 'facts are only added: use_record'); END;
CREATE TRIGGER use_record_keeps_replace BEFORE INSERT ON use_record WHEN EXISTS (SELECT 1 FROM use_record WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: use_record'); END;
CREATE TRIGGER inspection_keeps_update BEFORE UPDATE ON inspection BEGIN SELECT RAISE(ABORT, 'facts are only added: inspection'); END;
CREATE TRIGGER inspection_keeps_delete BEFORE DELETE ON inspection BEGIN SELECT RAISE(ABORT, 'facts are only added: inspection'); END;
CREATE TRIGGER inspection_keeps_replace BEFORE INSERT ON inspection WHEN EXISTS (SELECT 1 FROM inspection WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: inspection'); END;
CREATE TRIGGER sitting_keeps_update BEFORE UPDATE ON sitting BEGIN SELECT RAISE(ABORT, 'facts are only added: sitting'); END;
CREATE TRIGGER sitting_keeps_delete BEFORE DELETE ON sitting BEGIN SELECT RAISE(ABORT, 'facts are only added: sitting'); END;
CREATE TRIGGER sitting_keeps_replace BEFORE INSERT ON sitting WHEN EXISTS (SELECT 1 FROM sitting WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM sitting WHERE label = NEW.label) BEGIN SELECT RAISE(ABORT, 'facts are only added: sitting'); END;
CREATE TRIGGER clamping_keeps_update BEFORE UPDATE ON clamping BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping'); END;
CREATE TRIGGER clamping_keeps_delete BEFORE DELETE ON clamping BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping'); END;
CREATE TRIGGER clamping_keeps_replace BEFORE INSERT ON clamping WHEN EXISTS (SELECT 1 FROM clamping WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM clamping WHERE uuid = NEW.uuid) BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping'); END;
CREATE TRIGGER clamping_body_keeps_update BEFORE UPDATE ON clamping_body BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping_body'); END;
CREATE TRIGGER clamping_body_keeps_delete BEFORE DELETE ON clamping_body BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping_body'); END;
CREATE TRIGGER clamping_body_keeps_replace BEFORE INSERT ON clamping_body WHEN EXISTS (SELECT 1 FROM clamping_body WHERE clamping_id = NEW.clamping_id AND body_id = NEW.body_id) OR EXISTS (SELECT 1 FROM clamping_body WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: clamping_body'); END;
CREATE TRIGGER turn_keeps_update BEFORE UPDATE ON turn BEGIN SELECT RAISE(ABORT, 'facts are only added: turn'); END;
CREATE TRIGGER turn_keeps_delete BEFORE DELETE ON turn BEGIN SELECT RAISE(ABORT, 'facts are only added: turn'); END;
CREATE TRIGGER turn_keeps_replace BEFORE INSERT ON turn WHEN EXISTS (SELECT 1 FROM turn WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: turn'); END;
CREATE TRIGGER reading_keeps_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'facts are only added: reading'); END;
CREATE TRIGGER reading_keeps_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'facts are only added: reading'); END;
CREATE TRIGGER reading_keeps_replace BEFORE INSERT ON reading WHEN EXISTS (SELECT 1 FROM reading WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM reading WHERE turn_id = NEW.turn_id AND rank = NEW.rank) BEGIN SELECT RAISE(ABORT, 'facts are only added: reading'); END;
CREATE TRIGGER strike_keeps_update BEFORE UPDATE ON strike BEGIN SELECT RAISE(ABORT, 'facts are only added: strike'); END;
CREATE TRIGGER strike_keeps_delete BEFORE DELETE ON strike BEGIN SELECT RAISE(ABORT, 'facts are only added: strike'); END;
CREATE TRIGGER strike_keeps_replace BEFORE INSERT ON strike WHEN EXISTS (SELECT 1 FROM strike WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: strike'); END;
CREATE TRIGGER doubt_keeps_update BEFORE UPDATE ON doubt BEGIN SELECT RAISE(ABORT, 'facts are only added: doubt'); END;
CREATE TRIGGER doubt_keeps_delete BEFORE DELETE ON doubt BEGIN SELECT RAISE(ABORT, 'facts are only added: doubt'); END;
CREATE TRIGGER doubt_keeps_replace BEFORE INSERT ON doubt WHEN EXISTS (SELECT 1 FROM doubt WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: doubt'); END;
CREATE TRIGGER entry_digest_keeps_update BEFORE UPDATE ON entry_digest BEGIN SELECT RAISE(ABORT, 'facts are only added: entry_digest'); END;
CREATE TRIGGER entry_digest_keeps_delete BEFORE DELETE ON entry_digest BEGIN SELECT RAISE(ABORT, 'facts are only added: entry_digest'); END;
CREATE TRIGGER entry_digest_keeps_replace BEFORE INSERT ON entry_digest WHEN EXISTS (SELECT 1 FROM entry_digest WHERE entry_id = NEW.entry_id) OR EXISTS (SELECT 1 FROM entry_digest WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: entry_digest'); END;
CREATE TRIGGER custody_keeps_update BEFORE UPDATE ON custody BEGIN SELECT RAISE(ABORT, 'facts are only added: custody'); END;
CREATE TRIGGER custody_keeps_delete BEFORE DELETE ON custody BEGIN SELECT RAISE(ABORT, 'facts are only added: custody'); END;
CREATE TRIGGER custody_keeps_replace BEFORE INSERT ON custody WHEN EXISTS (SELECT 1 FROM custody WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: custody'); END;
CREATE TRIGGER gauge_recall_keeps_update BEFORE UPDATE ON gauge_recall BEGIN SELECT RAISE(ABORT, 'facts are only added: gauge_recall'); END;
CREATE TRIGGER gauge_recall_keeps_delete BEFORE DELETE ON gauge_recall BEGIN SELECT RAISE(ABORT, 'facts are only added: gauge_recall'); END;
CREATE TRIGGER gauge_recall_keeps_replace BEFORE INSERT ON gauge_recall WHEN EXISTS (SELECT 1 FROM gauge_recall WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: gauge_recall'); END;
CREATE TRIGGER recall_clearing_keeps_update BEFORE UPDATE ON recall_clearing BEGIN SELECT RAISE(ABORT, 'facts are only added: recall_clearing'); END;
CREATE TRIGGER recall_clearing_keeps_delete BEFORE DELETE ON recall_clearing BEGIN SELECT RAISE(ABORT, 'facts are only added: recall_clearing'); END;
CREATE TRIGGER recall_clearing_keeps_replace BEFORE INSERT ON recall_clearing WHEN EXISTS (SELECT 1 FROM recall_clearing WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'facts are only added: recall_clearing'); END;
CREATE TRIGGER statement_keeps_update BEFORE UPDATE ON statement BEGIN SELECT RAISE(ABORT, 'facts are only added: statement'); END;
CREATE TRIGGER statement_keeps_delete BEFORE DELETE ON statement BEGIN SELECT RAISE(ABORT, 'facts are only added: statement'); END;
CREATE TRIGGER statement_keeps_replace BEFORE INSERT ON statement WHEN EXISTS (SELECT 1 FROM statement WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM statement WHERE number = NEW.number AND revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'facts are only added: statement'); END;
CREATE TRIGGER statement_clamping_keeps_update BEFORE UPDATE ON statement_clamping BEGIN SELECT RAISE(ABORT, 'facts are only added: statement_clamping'); END;
CREATE TRIGGER statement_clamping_keeps_delete BEFORE DELETE ON statement_clamping BEGIN SELECT RAISE(ABORT, 'facts are only added: statement_clamping'); END;
CREATE TRIGGER statement_clamping_keeps_replace BEFORE INSERT ON statement_clamping WHEN EXISTS (SELECT 1 FROM statement_clamping WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM statement_clamping WHERE statement_id = NEW.statement_id AND clamping_id = NEW.clamping_id) BEGIN SELECT RAISE(ABORT, 'facts are only added: statement_clamping'); END;
COMMIT;

PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO alembic_version VALUES('0003');
CREATE TABLE source (
	id INTEGER NOT NULL, 
	name VARCHAR(4096) NOT NULL, 
	content_hash VARCHAR(64) NOT NULL, 
	part VARCHAR(200) NOT NULL, 
	byte_count INTEGER NOT NULL, 
	added_at DATETIME NOT NULL, chart VARCHAR DEFAULT '' NOT NULL, refused JSON DEFAULT '[]' NOT NULL, 
	CONSTRAINT pk_source PRIMARY KEY (id), 
	CONSTRAINT uq_source_content_hash UNIQUE (content_hash), 
	CONSTRAINT ck_source_ck_source_byte_count CHECK (byte_count >= 0)
);
INSERT INTO source VALUES(1,'/music/study.abc','7b1d8b690a66f60907997089eb47e8fc7e42a0eab51acf10b2a60b83b22a621f','/top',467,'2026-11-27 06:17:21.531334','','[]');
INSERT INTO source VALUES(2,'/music/one_more.abc','a6b7dad9e8e0323fff153d4eae648d7d5f6d315b2838d0b55df03b990a65eb5d','/top',218,'2026-11-27 06:17:24.643180','','[]');
CREATE TABLE transcription (
	id INTEGER NOT NULL, 
	source_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	title VARCHAR(400) NOT NULL, 
	player VARCHAR(400) NOT NULL, 
	collection VARCHAR(400) NOT NULL, 
	instrument VARCHAR(400) NOT NULL, 
	recording VARCHAR(400) NOT NULL, 
	year INTEGER, 
	tempo_bpm FLOAT, 
	"key" VARCHAR(40) NOT NULL, 
	meter VARCHAR(20) NOT NULL, 
	form VARCHAR(2000) NOT NULL, 
	note_count INTEGER NOT NULL, 
	bar_count INTEGER NOT NULL, 
	edited JSON NOT NULL, 
	CONSTRAINT pk_transcription PRIMARY KEY (id), 
	CONSTRAINT fk_transcription_source_id FOREIGN KEY(source_id) REFERENCES source (id) ON DELETE CASCADE, 
	CONSTRAINT uq_transcription_source_id UNIQUE (source_id, position)
);
INSERT INTO transcription VALUES(1,1,0,'Harbour Steps','Orlo Quist the younger','practice room','Double bass','Low Tide Sessions',1995,160.0,'Bb major','4/4','A4',33,8,'{"set": {"player": "Orlo Quist the younger", "year": 1995}, "was": {"player": "Orlo Quist", "year": 1994}}');
INSERT INTO transcription VALUES(2,1,1,'Paper Boats','Tamsin Vey','practice room','','',NULL,120.0,'F major','3/4','',7,3,'{"set": {"key": "F major"}, "was": {"key": "D minor"}}');
INSERT INTO transcription VALUES(3,2,0,'Attic Window','Tamsin Vey','','','',NULL,140.0,'Eb major','4/4','',21,6,'{"set": {}, "was": {}}');
CREATE TABLE line (
	transcription_id INTEGER NOT NULL, 
	notes BLOB NOT NULL, 
	layout BLOB NOT NULL, 
	CONSTRAINT pk_line PRIMARY KEY (transcription_id), 
	CONSTRAINT fk_line_transcription_id FOREIGN KEY(transcription_id) REFERENCES transcription (id) ON DELETE CASCADE
);
INSERT INTO line VALUES(1,X'789c63546480800475dae20dc2f8f140dbdf3097010e1849a411fa94d4d435341555d4d53475b4b534d5d5f48c8c4d4c0d74359594d4d4d4d5353434ff33fc07a9fc0f42300816f80fc184010020153806',X'789c4d50cb4ec33010fc973defc1de1a37ed0d24f8092b4249b3a401e254b68b84aafe3b1b3b24bd589a9767b437f8e11087c9c35123f8ebd87278ef9b4b84a3731aabba46b83431f22331f9c8697529d4353aa376a4703fcbdfecfb74ce5a61975fba6ef0fd12c9d4c849ca67c2193475214fe7295cd73e611dc92bc217ff162fbcb420e1e6730af010eab22aa20554989b250c6f7bc06586b22653d992116a52079bc9d7568c05a2b69aaacd5a2092d256ad7f168464f481366b81481591d9ac19e18ee849ba646ee453929b97c1cff3dc4dfb18fcff9de65307df8cec93c0dbfdfe0766787594');
INSERT INTO line VALUES(2,X'789c63646780800475d2b042195423032394b473747671f5f0828b800100d4e108d3',X'789c558f4b0e83300c44efe2b517e1b3e200bd441455297181b6715012902ac4dd9b00ade8ce7e33f6d80bcce4c3e0189a0281277b237fedf418a091b2c04a298451874067e03850fcb904160a6525ca5a6099e5177117fb4ddbe9b1c59881bb63644396620acf405658ab1db6bdf3d37fde93debb0b2e90a6f4c37938b94d16531da88de993a3bb0ffccdcb277bd69638a67659d70f1dda4dd9');
INSERT INTO line VALUES(3,X'789c63146580800475caf006610806b10ff851d73c106e98cb00078c0469756d1d5d3d354d5d6d3d43037d3d1d6d4d4d1d03bdff0c200804ff81f47f100bcac700004625255d',X'789c5590cd6ec2301084df65cf7bb05dd7fcdc5a095e228a504296909638c8369510e2dd59aff9eb71be99f5acf7027f14e23079586a047f1a5b0a9bbe39465856954657d708c726467a07938f949e2985bac6caaa0fa3f033db07f27dda8b57e8fd95ae1b7c7f1f113452e2f20c2a8bb62e70bb9fc2e97fdf2f9d4b0a562df058f33305788b77e2b2e900154a276f04dfed0c8ac2b97256986444a1366ae1047ee56091a89d3673a1eb315391689476eaf5689168ac5e70156f11699bf888790f56bbc13fbe9aaf157c33924f2c2fd7eb0d583468cd');
CREATE TABLE reading (
	transcription_id INTEGER NOT NULL, 
	interval VARCHAR NOT NULL, 
	folded VARCHAR NOT NULL, 
	step VARCHAR NOT NULL, 
	letter VARCHAR NOT NULL, 
	contour VARCHAR NOT NULL, 
	rhythm VARCHAR NOT NULL, 
	degree VARCHAR NOT NULL, 
	interval_collapsed VARCHAR NOT NULL, 
	folded_collapsed VARCHAR NOT NULL, 
	step_collapsed VARCHAR NOT NULL, 
	letter_collapsed VARCHAR NOT NULL, 
	contour_collapsed VARCHAR NOT NULL, 
	rhythm_collapsed VARCHAR NOT NULL, 
	degree_collapsed VARCHAR NOT NULL, role VARCHAR DEFAULT '' NOT NULL, movement VARCHAR DEFAULT '' NOT NULL, role_collapsed VARCHAR DEFAULT '' NOT NULL, movement_collapsed VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (transcription_id), 
	CONSTRAINT fk_reading_transcription_id FOREIGN KEY(transcription_id) REFERENCES transcription (id) ON DELETE CASCADE
);
INSERT INTO reading VALUES(1,'0qnnnepplpplllkluqnnnhjifmqmnmnmn','0ebbbeddlddlllkliebbbhjifaeababab','0onmnhooloolmlllronmnjkkimomnmmmn','0cbabcccgccgagggfcbabeffdacabaaab','0uuuuduuduuddddduuuuuddddrurururu','00mmmmmmmmmmmmmmmmmmmmmmmhmmmmmmm','aefghlcfehkjihfeaefghclhaaeeffggh','0qnnnepplpplllkluqnnnhjifqnnn','0ebbbeddlddlllkliebbbhjifebbb','0onmnhooloolmlllronmnjkkionmn','0cbabcccgccgagggfcbabeffdcbab','0uuuuduuduuddddduuuuudddduuuu','00mmmmmmmmmmmmmmmmmmmmmmmmmmm','aefghlcfehkjihfeaefghclhaefgh','aer4aehkeh8j1oa9aer4aheaaaeerr44a','0e0e000f000f0h000e0e00000a0a0a0a0','aer4aehkeh8j1oa9aer4aheaaer4a','0e0e000f000f0h000e0e000000000');
INSERT INTO reading VALUES(2,'0ponnpo','0dcbbdc','0onmnon','0cbabcb','0uuuuuu','00mmmmm','jacdehj','0ponnpo','0dcbbdc','0onmnon','0cbabcb','0uuuuuu','00mmmmm','jacdehj','0000000','0000000','0000000','0000000');
INSERT INTO reading VALUES(3,'0qnnnepqkpplllklkmpqk','0ebbbedekddlllklkadek','0onmnhooloolmllllmool','0cbabcccgccgaggggaccg','0uuuuduuduuddddddruud','00mmmmmmmmmmmmmmmhmrr','aefghlcgehkjihfeccfjh','0qnnnepqkpplllklkpqk','0ebbbedekddlllklkdek','0onmnhooloolmllllool','0cbabcccgccgaggggccg','0uuuuduuduudddddduud','00mmmmmmmmmmmmmmmmmr','aefghlcgehkjihfecfjh','aer4aeh9eh8j1oa9aadha','0e0e000h000f0h0h0a000','aer4aeh9eh8j1oa9adha','0e0e000h000f0h0h0000');
PRAGMA writable_schema=ON;
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','folded_index','folded_index',0,'CREATE VIRTUAL TABLE folded_index USING fts5(folded, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'folded_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO folded_index_data VALUES(1,X'0337');
INSERT INTO folded_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO folded_index_data VALUES(137438953473,X'000000c60430306562010202010361626101041d040202656101021b010362616201041e040202626201040412030165010205030168010215020265640102060202686a010216010364646c0104080502026c6401020903016c01020c010365616201021c020262620104031202026464010207010366616501021a0103686a6901021701036965620102120202666101021901036a696601021801036b6c6901021001036c646401020a0202696501021102026b6c01020f02026c6b01020e03016c01020d0408090709080606070709070608080708080807080808070707');
INSERT INTO folded_index_data VALUES(274877906945,X'0000002b0430306463020202010362626402020502026463020206010363626202020401036463620202030408080708');
INSERT INTO folded_index_data VALUES(412316860417,X'0000008704303065620302020103616465030213010362626203020403016503020502026564030206010364646c03020b0202656b0304080e02026c6c03020c01036562620302030202646503020702026b6403020901036b61640302120202646403020a02026c6b03021001036c6b6103021103016c03020f02026c6b03020e03016c03020d040808080607080807080707080707080607');
INSERT INTO folded_index_data VALUES(549755813889,X'0000002b0430306463020302010362626402030502026463020306010363626202030401036463620203030408080708');
CREATE TABLE IF NOT EXISTS 'folded_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO folded_index_idx VALUES(1,X'',2);
INSERT INTO folded_index_idx VALUES(2,X'',2);
INSERT INTO folded_index_idx VALUES(3,X'',2);
INSERT INTO folded_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'folded_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO folded_index_config VALUES('version',4);
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','folded_collapsed_index','folded_collapsed_index',0,'CREATE VIRTUAL TABLE folded_collapsed_index USING fts5(folded_collapsed, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'folded_collapsed_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO folded_collapsed_index_data VALUES(1,X'0332');
INSERT INTO folded_collapsed_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO folded_collapsed_index_data VALUES(137438953473,X'000000a904303065620102020103626262010604120a030165010205030168010215020265640102060202686a010216010364646c0104080502026c6401020903016c01020c0103656262010603120a02026464010207010366656201021a0103686a6901021701036965620102120202666501021901036a696601021801036b6c6901021001036c646401020a0202696501021102026b6c01020f02026c6b01020e03016c01020d04080a060607070907060a0708080807080808070707');
INSERT INTO folded_collapsed_index_data VALUES(274877906945,X'0000002b0430306463020202010362626402020502026463020206010363626202020401036463620202030408080708');
INSERT INTO folded_collapsed_index_data VALUES(412316860417,X'0000007e0430306562030202010362626203020403016503020502026564030206010364646c03020b0202656b0304080d02026c6c03020c01036562620302030202646503020702026b6403020901036b646403020a03016503021202026c6b03021001036c6b6403021103016c03020f02026c6b03020e03016c03020d0408080607080807080707080607080607');
INSERT INTO folded_collapsed_index_data VALUES(549755813889,X'0000002b0430306463020302010362626402030502026463020306010363626202030401036463620203030408080708');
CREATE TABLE IF NOT EXISTS 'folded_collapsed_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO folded_collapsed_index_idx VALUES(1,X'',2);
INSERT INTO folded_collapsed_index_idx VALUES(2,X'',2);
INSERT INTO folded_collapsed_index_idx VALUES(3,X'',2);
INSERT INTO folded_collapsed_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'folded_collapsed_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO folded_collapsed_index_config VALUES('version',4);
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','letter_index','letter_index',0,'CREATE VIRTUAL TABLE letter_index USING fts5(letter, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'letter_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO letter_index_data VALUES(1,X'0337');
INSERT INTO letter_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO letter_index_data VALUES(137438953473,X'000000cc0430306362010202010361616101021f0301620102200202626101021d0301630102050301650102150202636101021b0202676701020e010362616101021e030162010404120202636301020602026566010216010363616201021c020262610104031202026363010207030167010408050202676101020c030163010209010364616301021a010365666601021701036663620102120202646101021902026664010218010367616701020d0202636301020a020266630102110202676601021003016701020f04080806070606070708070707080807070706080808070708070707');
INSERT INTO letter_index_data VALUES(274877906945,X'0000002b0430306362020202010361626302020501036261620202040202636202020601036362610202030408080807');
INSERT INTO letter_index_data VALUES(412316860417,X'0000007804303063620302020103616263030205020263630302130202676703020e010362616203020402026363030206010363626103020302026363030207030167030608050b0202676103020c030163030209010367616303021203016703020d0202636303020a0202676103021103016703040f0304080807070807080708070608060707');
INSERT INTO letter_index_data VALUES(549755813889,X'0000002b0430306362020302010361626302030501036261620203040202636202030601036362610203030408080807');
CREATE TABLE IF NOT EXISTS 'letter_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO letter_index_idx VALUES(1,X'',2);
INSERT INTO letter_index_idx VALUES(2,X'',2);
INSERT INTO letter_index_idx VALUES(3,X'',2);
INSERT INTO letter_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'letter_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO letter_index_config VALUES('version',4);
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','letter_collapsed_index','letter_collapsed_index',0,'CREATE VIRTUAL TABLE letter_collapsed_index USING fts5(letter_collapsed, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'letter_collapsed_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO letter_collapsed_index_data VALUES(1,X'0332');
INSERT INTO letter_collapsed_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO letter_collapsed_index_data VALUES(137438953473,X'000000a7043030636201020201036162630102050301650102150202676701020e0103626162010604120a02026363010206020265660102160103636261010603120a02026363010207030167010408050202676101020c030163010209010364636201021a010365666601021701036663620102120202646301021902026664010218010367616701020d0202636301020a020266630102110202676601021003016701020f04080806070a07070a07070706080808070708070707');
INSERT INTO letter_collapsed_index_data VALUES(274877906945,X'0000002b0430306362020202010361626302020501036261620202040202636202020601036362610202030408080807');
INSERT INTO letter_collapsed_index_data VALUES(412316860417,X'0000006c043030636203020201036162630302050202676703020e010362616203020402026363030206010363626103020302026363030207030167030608050a0202676103020c030163030209010367616703020d0202636303040a0a0202676303021103016703040f030408080708070807080706080807');
INSERT INTO letter_collapsed_index_data VALUES(549755813889,X'0000002b0430306362020302010361626302030501036261620203040202636202030601036362610203030408080807');
CREATE TABLE IF NOT EXISTS 'letter_collapsed_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO letter_collapsed_index_idx VALUES(1,X'',2);
INSERT INTO letter_collapsed_index_idx VALUES(2,X'',2);
INSERT INTO letter_collapsed_index_idx VALUES(3,X'',2);
INSERT INTO letter_collapsed_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'letter_collapsed_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO letter_collapsed_index_config VALUES('version',4);
CREATE TABLE harmony (
	level INTEGER NOT NULL, 
	transcription_id INTEGER NOT NULL, 
	functions VARCHAR NOT NULL, 
	chord_indexes BLOB NOT NULL, 
	CONSTRAINT pk_harmony PRIMARY KEY (level, transcription_id), 
	CONSTRAINT fk_harmony_transcription_id FOREIGN KEY(transcription_id) REFERENCES transcription (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO harmony VALUES(0,1,'ĀϥĀ̕ĀϥĀϥ',X'0001010101010101');
INSERT INTO harmony VALUES(0,3,'ĀϥĀ̕Ǫϥ',X'000101010101');
INSERT INTO harmony VALUES(1,1,'ĀϥĀ̕ĀϥĀϥ',X'0001010101010101');
INSERT INTO harmony VALUES(1,3,'ĀϥĀ̕ϥ',X'0001010101');
INSERT INTO harmony VALUES(2,1,'ĀϥĀ̕ĀϥĀϥ',X'0001010101010101');
INSERT INTO harmony VALUES(2,3,'ĀϥĀ̕ϥ',X'0001010101');
INSERT INTO harmony VALUES(3,1,'Ā',X'00');
INSERT INTO harmony VALUES(3,3,'Ā',X'00');
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','role_index','role_index',0,'CREATE VIRTUAL TABLE role_index USING fts5(role, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'role_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO role_index_data VALUES(1,X'0337');
INSERT INTO role_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO role_index_data VALUES(137438953473,X'000000cf0430316f6101020e0103343461010220020261650102050301680102150103386a3101020c010339616501021101036139610102100202616101021903016501021a0202656501021b030168010206030172010402120202686501021601036561610102180202657201021c0202683801020a03016b010207020272340104031203017201021d010368386a01020b0202656101021702026b6501020801036a316f01020d01036b656801020901036f613901020f010372343401021f030161010404120202723401021e04080807060808080706070607070807070608060807070808080807');
INSERT INTO role_index_data VALUES(274877906945,X'000000100430303030020a020303030304');
INSERT INTO role_index_data VALUES(412316860417,X'000000920430316f6103020e01033461650302050103386a3103020c01033961610302110202656803020901036139610302100202616403021202026468030213020265680302060301720302020103646861030214010365683803020a03013903020702027234030203010368386a03020b0202396503020801036a316f03020d01036f613903020f010372346103020404080808080708070707060808060708070808');
INSERT INTO role_index_data VALUES(549755813889,X'000000100430303030020b020303030304');
CREATE TABLE IF NOT EXISTS 'role_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO role_index_idx VALUES(1,X'',2);
INSERT INTO role_index_idx VALUES(2,X'',2);
INSERT INTO role_index_idx VALUES(3,X'',2);
INSERT INTO role_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'role_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO role_index_config VALUES('version',4);
INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql)VALUES('table','role_collapsed_index','role_collapsed_index',0,'CREATE VIRTUAL TABLE role_collapsed_index USING fts5(role_collapsed, content=''reading'', content_rowid=''transcription_id'', columnsize=0, tokenize=''trigram case_sensitive 1'')');
CREATE TABLE IF NOT EXISTS 'role_collapsed_index_data'(id INTEGER PRIMARY KEY, block BLOB);
INSERT INTO role_collapsed_index_data VALUES(1,X'0332');
INSERT INTO role_collapsed_index_data VALUES(10,X'000000000104040004010101020101030101040101');
INSERT INTO role_collapsed_index_data VALUES(137438953473,X'000000a50430316f6101020e01033461650102050301680102150103386a3101020c010339616501021101036139610102100202616501021902026568010206030172010602120a0202686501021601036561610102180202683801020a03016b01020702027234010603120a010368386a01020b0202656101021702026b6501020801036a316f01020d01036b656801020901036f613901020f0103723461010604120a040808060808080707080708070609080707080808');
INSERT INTO role_collapsed_index_data VALUES(274877906945,X'000000100430303030020a020303030304');
INSERT INTO role_collapsed_index_data VALUES(412316860417,X'0000008b0430316f6103020e01033461650302050103386a3103020c010339616403021102026568030209010361396103021002026468030212020265680302060301720302020103646861030213010365683803020a03013903020702027234030203010368386a03020b0202396503020801036a316f03020d01036f613903020f0103723461030204040808080807080707060808060708070808');
INSERT INTO role_collapsed_index_data VALUES(549755813889,X'000000100430303030020b020303030304');
CREATE TABLE IF NOT EXISTS 'role_collapsed_index_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID;
INSERT INTO role_collapsed_index_idx VALUES(1,X'',2);
INSERT INTO role_collapsed_index_idx VALUES(2,X'',2);
INSERT INTO role_collapsed_index_idx VALUES(3,X'',2);
INSERT INTO role_collapsed_index_idx VALUES(4,X'',2);
CREATE TABLE IF NOT EXISTS 'role_collapsed_index_config'(k PRIMARY KEY, v) WITHOUT ROWID;
INSERT INTO role_collapsed_index_config VALUES('version',4);
CREATE INDEX ix_source_name ON source (name);
CREATE INDEX ix_transcription_title ON transcription (title);
CREATE INDEX ix_transcription_player ON transcription (player);
CREATE INDEX ix_transcription_collection ON transcription (collection);
CREATE INDEX ix_harmony_transcription_id ON harmony (transcription_id);
CREATE TRIGGER reading_inserted AFTER INSERT ON reading BEGIN INSERT INTO folded_index(rowid, folded) VALUES (new.transcription_id, new.folded); INSERT INTO folded_collapsed_index(rowid, folded_collapsed) VALUES (new.transcription_id, new.folded_collapsed); INSERT INTO letter_index(rowid, letter) VALUES (new.transcription_id, new.letter); INSERT INTO letter_collapsed_index(rowid, letter_collapsed) VALUES (new.transcription_id, new.letter_collapsed); INSERT INTO role_index(rowid, role) VALUES (new.transcription_id, new.role); INSERT INTO role_collapsed_index(rowid, role_collapsed) VALUES (new.transcription_id, new.role_collapsed); END;
CREATE TRIGGER reading_deleted AFTER DELETE ON reading BEGIN INSERT INTO folded_index(folded_index, rowid, folded) VALUES ('delete', old.transcription_id, old.folded); INSERT INTO folded_collapsed_index(folded_collapsed_index, rowid, folded_collapsed) VALUES ('delete', old.transcription_id, old.folded_collapsed); INSERT INTO letter_index(letter_index, rowid, letter) VALUES ('delete', old.transcription_id, old.letter); INSERT INTO letter_collapsed_index(letter_collapsed_index, rowid, letter_collapsed) VALUES ('delete', old.transcription_id, old.letter_collapsed); INSERT INTO role_index(role_index, rowid, role) VALUES ('delete', old.transcription_id, old.role); INSERT INTO role_collapsed_index(role_collapsed_index, rowid, role_collapsed) VALUES ('delete', old.transcription_id, old.role_collapsed); END;
CREATE TRIGGER reading_updated AFTER UPDATE ON reading BEGIN INSERT INTO folded_index(folded_index, rowid, folded) VALUES ('delete', old.transcription_id, old.folded); INSERT INTO folded_collapsed_index(folded_collapsed_index, rowid, folded_collapsed) VALUES ('delete', old.transcription_id, old.folded_collapsed); INSERT INTO letter_index(letter_index, rowid, letter) VALUES ('delete', old.transcription_id, old.letter); INSERT INTO letter_collapsed_index(letter_collapsed_index, rowid, letter_collapsed) VALUES ('delete', old.transcription_id, old.letter_collapsed); INSERT INTO role_index(role_index, rowid, role) VALUES ('delete', old.transcription_id, old.role); INSERT INTO role_collapsed_index(role_collapsed_index, rowid, role_collapsed) VALUES ('delete', old.transcription_id, old.role_collapsed); INSERT INTO folded_index(rowid, folded) VALUES (new.transcription_id, new.folded); INSERT INTO folded_collapsed_index(rowid, folded_collapsed) VALUES (new.transcription_id, new.folded_collapsed); INSERT INTO letter_index(rowid, letter) VALUES (new.transcription_id, new.letter); INSERT INTO letter_collapsed_index(rowid, letter_collapsed) VALUES (new.transcription_id, new.letter_collapsed); INSERT INTO role_index(rowid, role) VALUES (new.transcription_id, new.role); INSERT INTO role_collapsed_index(rowid, role_collapsed) VALUES (new.transcription_id, new.role_collapsed); END;
PRAGMA writable_schema=OFF;
COMMIT;

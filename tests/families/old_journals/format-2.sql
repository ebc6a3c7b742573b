BEGIN TRANSACTION;
CREATE TABLE curve (
        curve INTEGER PRIMARY KEY,
        identity TEXT NOT NULL UNIQUE -- SHA-256 of all that can alter a recording
    );
INSERT INTO "curve" VALUES(1,'d0488725b4e751b8aea0c106e564c5caba4e066b3cd1114e58581eccb73e58ae');
INSERT INTO "curve" VALUES(2,'72853ea4f0ead5be973bb68df4d7179a6bd6d6a0be689599235da525c40c056b');
CREATE TABLE outcome (
        curve INTEGER NOT NULL,
        receiver INTEGER NOT NULL,
        arm INTEGER NOT NULL, -- 0 a message was sent, 1 nothing was sent
        axis_value REAL NOT NULL,
        trial_index INTEGER NOT NULL,
        verdict INTEGER NOT NULL, -- 0 decoded, 1 missed, 2 failed, 3 nothing sent
        n_false INTEGER NOT NULL,
        elapsed_s REAL NOT NULL,
        decodes TEXT, -- JSON {"right": decode or null, "false": [decodes]}; NULL if none
        failure TEXT,
        run INTEGER NOT NULL REFERENCES run,
        cpu_s REAL, -- processor time; NULL: unknown
        PRIMARY KEY (curve, receiver, arm, axis_value, trial_index)
    ) WITHOUT ROWID;
INSERT INTO "outcome" VALUES(1,1,0,-22.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-22.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-22.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-22.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-22.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-22.0,5,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-20.0,5,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,0,-18.0,5,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,1,-20.0,0,3,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,1,1,-20.0,1,3,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-22.0,5,2,0,0.25,NULL,'ValueError: no',1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-20.0,5,2,0,0.25,NULL,'ValueError: no',1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,1,1,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,0,-18.0,5,2,0,0.25,NULL,'ValueError: no',1,0.125);
INSERT INTO "outcome" VALUES(1,2,1,-20.0,0,3,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(1,2,1,-20.0,1,3,0,0.25,NULL,NULL,1,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-22.0,5,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-20.0,5,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,0,-18.0,5,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,1,-20.0,0,3,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,1,1,-20.0,1,3,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-22.0,5,2,0,0.25,NULL,'ValueError: no',2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-20.0,5,2,0,0.25,NULL,'ValueError: no',2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,0,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,1,1,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,2,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,3,1,1,0.25,'{"right":null,"false":[{"text":"Q0ÄB 73"}]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,4,0,0,0.25,'{"right":{"text":"CQ Q1ABC FN42","audio_hz":1500.25,"time_offset_s":-0.125,"snr_db":-19.0,"n_corrected_bits":3,"information_bits":41.5,"path":"first"},"false":[]}',NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,0,-18.0,5,2,0,0.25,NULL,'ValueError: no',2,0.125);
INSERT INTO "outcome" VALUES(2,2,1,-20.0,0,3,0,0.25,NULL,NULL,2,0.125);
INSERT INTO "outcome" VALUES(2,2,1,-20.0,1,3,0,0.25,NULL,NULL,2,0.125);
CREATE TABLE receiver (
        receiver INTEGER PRIMARY KEY,
        identity TEXT NOT NULL UNIQUE -- SHA-256 of all that can alter an answer
    );
INSERT INTO "receiver" VALUES(1,'1caa4a7cab155aae7729033419a327b5dcbdbe84cd533151a604b2e90c8b9e8b');
INSERT INTO "receiver" VALUES(2,'eaf484b874a43ff422d8134cef819ea3988a4cb44b3598c2d17ac0e51ff1f187');
CREATE TABLE recording (
        curve INTEGER NOT NULL,
        arm INTEGER NOT NULL, -- 0 a message was sent, 1 nothing was sent
        axis_value REAL NOT NULL,
        trial_index INTEGER NOT NULL,
        digest BLOB NOT NULL, -- SHA-256 of the samples
        readings TEXT NOT NULL, -- JSON, order as in Readings and LevelReading
        PRIMARY KEY (curve, arm, axis_value, trial_index)
    ) WITHOUT ROWID;
INSERT INTO "recording" VALUES(1,0,-22.0,0,X'60214D43AD245946DB28BAB18B5EBDF504475085B9BE7F6779E179E7605E7C2A','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-22.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-22.0,1,X'2A41533E3B8C53C1B1AFF3AEFAE52A62539FCE4D5A4537AD30FB13226A3464FE','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-22.0,2,X'024EE9CEB1F5EC1E22625BE0E5DBBF7B4C09B3551D8363BDA1C5AC96C172C4F3','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-22.0,3,X'CB7348FA308FB313BE00E931C8914128CF35DEF74924FB8AF26D6DB42C0E2552','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-22.0,4,X'B00A1D9BAAD478CD514217E2CA3979A2E7576BEE0B6BBC990762E0C621900124','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-22.0,5,X'EE5EC642E0B535E6AFD4AF7A3C055B6BC27557E6E39BC55D256B195DF6911487','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,0,X'B7E2F71983131EB189027DFB06A99907808A40C50BB5D9A4EE283C9898644B03','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-20.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,1,X'1D21BE2FFAE0C9622357B34121F182901748F5D617710A0C942B87C1DF929E0E','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,2,X'3A866D5BAA5AEC156569AE4279D880B08FFA870734FD52F622E2040E170D5D78','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,3,X'79348D8C9AA19D208A64F05846D45D183ABCD50F2BF505A802096DAE9515E08F','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,4,X'4F5E4FEE44F95E6A855B55668C5A1A92FECCFD84345EFD17B2241D1F64D2C38D','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-20.0,5,X'D9DF7C6A681F685DAE950BD0416717671675F7E40C6F7DA636D15ED218C867BF','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,0,X'13F811489451C74A001CA8A2F5D819491895AD32C0EDF992CD08FB2F380F80A1','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-18.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,1,X'B2E3BAE3D71AE2D8EDD3D3E100E0A28DD2541900740140091CA20BF7AEB52970','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,2,X'000444E4A1820777CEB6FEAD90B81A93834F94252871558BF40695CB6E969597','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,3,X'2FEBE8ECA80528195FACC3A19551F6866A36A4CB1F8BE230B047BE4CDCB69C56','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,4,X'3B4CD84EB1D9A0473ED5AB990AAE1CB5CA4B72D9159EBBB4292F942671937A5A','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,0,-18.0,5,X'893988B155E24689B5F5C5B6FDC4848ADDB0FC67557170F7958DDBE44D6F05B2','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,1,-20.0,0,X'493A4E65E228FD71CABF1D341E7F6D1C1105F7073B6E376CA5488F917DD6998F','["-inf",[["gaussian-noise","SNR in 2500 Hz",-20.0,"-inf",0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(1,1,-20.0,1,X'E9ABF8AAA268BA421C942B3555B602ED6F5FAC2C813D899CFD6F4CB1237B254A','["-inf",[["gaussian-noise","SNR in 2500 Hz",-20.0,"-inf",0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,0,X'2D9048467420EB8020096F22DFAF6DDFD56361270700BA8E2D0D88A127634A48','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-22.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,1,X'D23B950DA2D9B34CE4E8BBA155A8F9952336A3F5D63470EFA4E6C5333D0DAC80','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,2,X'D28791FA813787DCC939C5BEAD104904F599C5047150515F35CA8C55CE511ECF','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,3,X'37493433EA066A63122792EC99EDD9DF825139F75112E987758ADCFB88F7892C','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,4,X'E60D97A13928BFB58BF33870D127C7E3344FB00FC999839C314AC176295BAE03','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-22.0,5,X'F726A6365E750575F3E2992E5800AE049846FF9B22CAB2075247AA44DC597AF7','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-22.0,-21.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,0,X'8BBCEB2F8E158C181972366961BD1FC8175B6DF7CD7CDD3AF754EA14F391FA63','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-20.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,1,X'E68F6B7DAAA20FA116317D6B70899483FBD7DDAEA35690539BE9A006A0A5FCC2','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,2,X'226DFA4DAAC1E0FD021E728C37C2E11154723E8D246A8F35EEA828D521AF34C2','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,3,X'EE72C7C692BB0D33C5A7999FFD36707B8A093B9518483FF342731066A116AE4C','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,4,X'43BAEE51488D5B7DB729D617031683F2B5E99618F6FF340DDEBC2D2F549EA34C','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-20.0,5,X'2590A59C0545534F74DDE2B4A3F5C2CE18999562394C8E3212819834B2AFA1F9','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-20.0,-19.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,0,X'1063FDDEEEC97FB6150C8EF176A58D382DB7D61E04AA9D2CA0253A41953B8253','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-18.0,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,1,X'441AF833B9B80893FE594D480E270CB6F69D47927C57B97D20A39DB293305EC9','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.99,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,2,X'2404DBA94FB46D2C24360D86157A48990441D9E68F83744B09A53E0130B1E7FC','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.98,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,3,X'2AFA8790EEB195E63B7E35F9C5B21FC0CC8E03EF003250A255173E81A6F3CB48','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.97,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,4,X'706CFCCBF7167454CD129C3968712622D6EA75B26422318D63C5D5DADC05BE8A','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.96,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,0,-18.0,5,X'57C22BF5637ADDC9F8361E81506A8F51FD5EED7997BC989EE4FE418B3062D098','[-33.0,[["gaussian-noise","SNR in 2500 Hz",-18.0,-17.95,0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,1,-20.0,0,X'BF76857EB3477B26B8286BA23F697E149B963ECDD7392BAF4E8CF28DF3CA28AA','["-inf",[["gaussian-noise","SNR in 2500 Hz",-20.0,"-inf",0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
INSERT INTO "recording" VALUES(2,1,-20.0,1,X'AE7E0049268F638F9FA39D08C928475DD5098FA7333AEAC98D4DB311FD77BADB','["-inf",[["gaussian-noise","SNR in 2500 Hz",-20.0,"-inf",0.05,-20.5,-20.5,-7.25,13.25,0.0]],-20.0,-6.5,13.5,0,-0.3333333333333333]');
CREATE TABLE refused ( -- follows from outcome; spares fits
    curve INTEGER NOT NULL,
    receiver INTEGER NOT NULL,
    n INTEGER NOT NULL, -- trials a point at the last look that was not precise enough
    key TEXT NOT NULL, -- SHA-256 of all that look depended on
    PRIMARY KEY (curve, receiver)
) WITHOUT ROWID;
CREATE TABLE run (
        run INTEGER PRIMARY KEY,
        plan TEXT NOT NULL, -- JSON; the last run's plan is the journal's
        curves TEXT NOT NULL, -- JSON: curve of each condition of the plan
        receivers TEXT NOT NULL, -- JSON: receiver of each receiver of the plan
        environment TEXT NOT NULL, -- JSON: versions, machine, start
        settled_utc TEXT, -- when this run last finished a whole block
        n_outcomes INTEGER NOT NULL DEFAULT 0 -- rows of outcome that name this run
    );
INSERT INTO "run" VALUES(1,'{"title":"","notes":"","mode":"ft8","root_seed":7,"axis":{"values":[-22.0,-20.0,-18.0],"start":null,"stop":null,"step":null,"placement":"even"},"map":null,"stop":{"trials_per_point":6,"threshold_half_width_db":null,"p":0.5,"until":null,"risk":0.05,"at_most":1000,"nothing_sent":2},"audio":{"sample_rate_hz":12000,"level_dbfs":"auto","internal_rate_hz":null},"live":null,"conditions":[{"name":"quiet","sending":{"message":"random","audio_hz":{"low":500.0,"high":2300.0},"start_offset_s":{"low":-0.5,"high":0.5},"signal_dbfs":null},"impairments":[{"kind":"gaussian-noise","snr_db":"axis"}],"mapped":null},{"name":"low","sending":{"message":"random","audio_hz":700.0,"start_offset_s":{"low":-0.5,"high":0.5},"signal_dbfs":null},"impairments":[{"kind":"gaussian-noise","snr_db":"axis"}],"mapped":null}],"receivers":[{"kind":"builtin","name":"ours","effort":"ordered-statistics","passes":4,"arithmetic":"compiled","low_hz":200.0,"high_hz":2900.0},{"kind":"builtin","name":"quick","effort":"belief-propagation","passes":4,"arithmetic":"compiled","low_hz":200.0,"high_hz":2900.0}]}','[1,2]','[1,2]','{"python":"CPython 3.11","libraries":{"numpy":"2"},"platform":"somewhere","cpu":"some processor","n_cpus":2,"started_utc":"2026-01-01T00:00:00+00:00","import_folders":[],"machines":[]}','2026-12-01T12:39:02+00:00',40);
INSERT INTO "run" VALUES(2,'{"title":"","notes":"","mode":"ft8","root_seed":7,"axis":{"values":[-22.0,-20.0,-18.0],"start":null,"stop":null,"step":null,"placement":"even"},"map":null,"stop":{"trials_per_point":6,"threshold_half_width_db":null,"p":0.5,"until":null,"risk":0.05,"at_most":1000,"nothing_sent":2},"audio":{"sample_rate_hz":12000,"level_dbfs":"auto","internal_rate_hz":null},"live":null,"conditions":[{"name":"quiet","sending":{"message":"random","audio_hz":{"low":500.0,"high":2300.0},"start_offset_s":{"low":-0.5,"high":0.5},"signal_dbfs":null},"impairments":[{"kind":"gaussian-noise","snr_db":"axis"}],"mapped":null},{"name":"low","sending":{"message":"random","audio_hz":700.0,"start_offset_s":{"low":-0.5,"high":0.5},"signal_dbfs":null},"impairments":[{"kind":"gaussian-noise","snr_db":"axis"}],"mapped":null}],"receivers":[{"kind":"builtin","name":"ours","effort":"ordered-statistics","passes":4,"arithmetic":"compiled","low_hz":200.0,"high_hz":2900.0},{"kind":"builtin","name":"quick","effort":"belief-propagation","passes":4,"arithmetic":"compiled","low_hz":200.0,"high_hz":2900.0}]}','[1,2]','[1,2]','{"python":"CPython 3.11","libraries":{"numpy":"2"},"platform":"somewhere","cpu":"some processor","n_cpus":2,"started_utc":"2026-01-01T00:00:00+00:00","import_folders":[],"machines":[]}','2026-12-01T12:39:02+00:00',40);
CREATE TABLE stretch ( -- follows from outcome; see scores.py
    curve INTEGER NOT NULL,
    receiver INTEGER NOT NULL,
    arm INTEGER NOT NULL,
    axis_value REAL NOT NULL,
    stretch INTEGER NOT NULL, -- trial index divided by 128
    scores BLOB NOT NULL, -- four bytes a trial, little-endian
    PRIMARY KEY (curve, receiver, arm, axis_value, stretch)
) WITHOUT ROWID;
INSERT INTO "stretch" VALUES(1,1,0,-22.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(1,1,0,-20.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(1,1,0,-18.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(1,1,1,-20.0,0,X'0400000004000000');
INSERT INTO "stretch" VALUES(1,2,0,-22.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(1,2,0,-20.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(1,2,0,-18.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(1,2,1,-20.0,0,X'0400000004000000');
INSERT INTO "stretch" VALUES(2,1,0,-22.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(2,1,0,-20.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(2,1,0,-18.0,0,X'0100000002000000010000000A0000000100000002000000');
INSERT INTO "stretch" VALUES(2,1,1,-20.0,0,X'0400000004000000');
INSERT INTO "stretch" VALUES(2,2,0,-22.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(2,2,0,-20.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(2,2,0,-18.0,0,X'0100000002000000010000000A0000000100000003000000');
INSERT INTO "stretch" VALUES(2,2,1,-20.0,0,X'0400000004000000');
COMMIT;

PRAGMA application_id = 1196576072;
BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'gramhour','1 rates by revision and day, keys','2026-11-29 16:36:54.697385+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'gramhour','2 answers to repeated calls','2026-11-29 16:36:54.697858+00:00');
INSERT INTO "_sqlite_migrations" VALUES(3,'gramhour','3 products, listings and their prices','2026-11-29 16:36:54.699572+00:00');
INSERT INTO "_sqlite_migrations" VALUES(4,'gramhour','4 repricings','2026-11-29 16:36:54.700068+00:00');
CREATE TABLE access_key (
        name TEXT PRIMARY KEY,
        hash BLOB NOT NULL UNIQUE,
        scopes TEXT NOT NULL CHECK (json_valid(scopes)),
        channels TEXT CHECK (channels IS NULL OR json_valid(channels)),
        added_at TEXT NOT NULL,
        expires_at TEXT,
        revoked_at TEXT
    ) STRICT
    ;
INSERT INTO "access_key" VALUES('till',X'CB022D882F40891CBFDA6A0FF73D254F8B392EAB915E9E056612FD3C0590D676','["cost"]',NULL,'2026-11-25T00:00:00+00:00',NULL,NULL);
CREATE TABLE answered_call (
            caller TEXT NOT NULL,
            route TEXT NOT NULL,
            idempotency_key TEXT NOT NULL,
            body_hash BLOB NOT NULL,
            status INTEGER NOT NULL,
            answer BLOB NOT NULL,
            answered_at TEXT NOT NULL,
            PRIMARY KEY (caller, route, idempotency_key)
        ) STRICT
        ;
CREATE TABLE entry_version (
        kind TEXT NOT NULL CHECK (kind IN ('product', 'listing')),
        name TEXT NOT NULL,
        version INTEGER NOT NULL CHECK (version > 0),
        value TEXT CHECK (value IS NULL OR json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL,
        PRIMARY KEY (kind, name, version)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "entry_version" VALUES('listing','ST-1',1,'{"product":"stake","channel":"stall","aim":{"margin_pct":"40"},"breaks":[1,10]}','2026-11-29T16:36:54+00:00','command line');
INSERT INTO "entry_version" VALUES('listing','ST-2',1,'{"product":"stake","channel":"stall","aim":{"margin_pct":"50"},"breaks":[1,10]}','2026-11-29T16:36:54+00:00','command line');
INSERT INTO "entry_version" VALUES('product','stake',1,'{"product":{"name":"Plant stake","pieces":[{"machine":"printer","feed":[{"material":"pla","mass_g":"50"}],"print_min":"120"}]}}','2026-11-29T16:36:54+00:00','command line');
CREATE TABLE listing (
        sku TEXT PRIMARY KEY,
        version INTEGER NOT NULL,
        value TEXT NOT NULL CHECK (json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL,
        product TEXT NOT NULL GENERATED ALWAYS AS (value ->> '$.product') STORED
            REFERENCES product (code),
        variant TEXT NOT NULL GENERATED ALWAYS AS (coalesce(value ->> '$.variant', '')) STORED,
        channel TEXT NOT NULL GENERATED ALWAYS AS (value ->> '$.channel') STORED,
        looked_at_revision INTEGER,
        looked_at_day TEXT
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "listing" VALUES('ST-1',1,'{"product":"stake","channel":"stall","aim":{"margin_pct":"40"},"breaks":[1,10]}','2026-11-29T16:36:54+00:00','command line',2,'2026-11-29');
INSERT INTO "listing" VALUES('ST-2',1,'{"product":"stake","channel":"stall","aim":{"margin_pct":"50"},"breaks":[1,10]}','2026-11-29T16:36:54+00:00','command line',2,'2026-11-29');
CREATE TABLE price_change (
        change INTEGER PRIMARY KEY CHECK (change > 0),
        sku TEXT NOT NULL,
        effective_from TEXT NOT NULL CHECK (date(effective_from, '+0 days') IS effective_from),
        planned INTEGER NOT NULL,
        channel TEXT NOT NULL,
        breaks TEXT NOT NULL CHECK (json_valid(breaks)),
        discount_pct TEXT,
        under_floor INTEGER NOT NULL,
        rates_revision INTEGER NOT NULL REFERENCES revision (number),
        rates_on TEXT NOT NULL,
        product_version INTEGER NOT NULL,
        listing_version INTEGER NOT NULL,
        rules TEXT NOT NULL,
        applied_at TEXT NOT NULL,
        applied_by TEXT NOT NULL,
        note TEXT NOT NULL
    ) STRICT
    ;
INSERT INTO "price_change" VALUES(1,'ST-1','2026-11-29',0,'stall','[{"from_quantity":1,"unit_price":"7.60","unit_price_net":"7.6000","unit_cost":"4.5600"},{"from_quantity":10,"unit_price":"7.60","unit_price_net":"7.6000","unit_cost":"4.5600"}]',NULL,0,2,'2026-11-29',1,1,'1','2026-11-29T16:36:55+00:00','command line','how we begin');
INSERT INTO "price_change" VALUES(2,'ST-2','2026-11-29',0,'stall','[{"from_quantity":1,"unit_price":"9.12","unit_price_net":"9.1200","unit_cost":"4.5600"},{"from_quantity":10,"unit_price":"9.12","unit_price_net":"9.1200","unit_cost":"4.5600"}]',NULL,0,2,'2026-11-29',1,1,'1','2026-11-29T16:36:55+00:00','command line','how we begin');
CREATE TABLE product (
        code TEXT PRIMARY KEY,
        version INTEGER NOT NULL,
        value TEXT NOT NULL CHECK (json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "product" VALUES('stake',1,'{"product":{"name":"Plant stake","pieces":[{"machine":"printer","feed":[{"material":"pla","mass_g":"50"}],"print_min":"120"}]}}','2026-11-29T16:36:54+00:00','command line');
CREATE TABLE product_use (
        product TEXT NOT NULL REFERENCES product (code) ON DELETE CASCADE,
        variant TEXT NOT NULL,
        kind TEXT NOT NULL,
        code TEXT NOT NULL,
        PRIMARY KEY (product, variant, kind, code)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "product_use" VALUES('stake','','machines','printer');
INSERT INTO "product_use" VALUES('stake','','materials','pla');
CREATE TABLE rate_change (
        kind TEXT NOT NULL,
        code TEXT NOT NULL,
        effective_from TEXT NOT NULL,
        revision INTEGER NOT NULL REFERENCES revision (number),
        value TEXT CHECK (value IS NULL OR json_valid(value)),
        PRIMARY KEY (kind, code, effective_from, revision)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "rate_change" VALUES('channels','stall','2026-11-29',1,'{"name":"Market stall","prices_include_tax":false,"tax_rate_pct":"20"}');
INSERT INTO "rate_change" VALUES('machines','printer','2026-11-29',1,'{"rate_per_hour":"1.50","power_w":"100"}');
INSERT INTO "rate_change" VALUES('materials','pla','2026-11-29',1,'{"name":"PLA, moss","price_per_kg":"30.00"}');
INSERT INTO "rate_change" VALUES('materials','pla','2099-01-01',2,'{"name":"PLA, moss","price_per_kg":"36.00"}');
INSERT INTO "rate_change" VALUES('shop','currency','2026-11-29',1,'"EUR"');
INSERT INTO "rate_change" VALUES('shop','labour_rate_per_hour','2026-11-29',1,'"30.00"');
INSERT INTO "rate_change" VALUES('shop','labour_rate_per_hour','2099-01-01',2,'"36.00"');
INSERT INTO "rate_change" VALUES('shop','price_per_kwh','2026-11-29',1,'"0.30"');
CREATE TABLE repricing (
        id TEXT PRIMARY KEY,
        asked TEXT NOT NULL CHECK (json_valid(asked)),
        asked_at TEXT NOT NULL,
        asked_by TEXT NOT NULL,
        rates_revision INTEGER NOT NULL REFERENCES revision (number),
        rates_on TEXT NOT NULL,
        newest_change INTEGER NOT NULL,
        ended TEXT CHECK (ended IN ('finished', 'failed')),
        ended_at TEXT,
        says TEXT,
        lines INTEGER NOT NULL DEFAULT 0,
        done INTEGER NOT NULL DEFAULT 0,
        applied_at TEXT,
        applied_by TEXT
    ) STRICT
    ;
INSERT INTO "repricing" VALUES('e390e7ce7e1d2570','{"rates_revision":2,"rates_on":"2026-11-29","note":"how we begin"}','2026-11-29T16:36:55+00:00','command line',2,'2026-11-29',0,'finished','2026-11-29T16:36:55+00:00',NULL,2,2,'2026-11-29T16:36:55+00:00','command line');
CREATE TABLE repricing_line (
        repricing TEXT NOT NULL REFERENCES repricing (id) ON DELETE CASCADE,
        sku TEXT NOT NULL,
        outcome TEXT NOT NULL,
        under_floor INTEGER NOT NULL,
        under_floor_if_kept INTEGER NOT NULL,
        moves REAL NOT NULL,
        standing REAL NOT NULL,
        from_change INTEGER,
        product_version INTEGER NOT NULL,
        listing_version INTEGER NOT NULL,
        channel TEXT NOT NULL,
        prices TEXT NOT NULL CHECK (json_valid(prices)),
        line BLOB NOT NULL,
        PRIMARY KEY (repricing, sku)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "repricing_line" VALUES('e390e7ce7e1d2570','ST-1','new',0,0,0.0,0.0,NULL,1,1,'stall','[{"from_quantity":1,"unit_price":"7.60","unit_price_net":"7.6000","unit_cost":"4.5600"},{"from_quantity":10,"unit_price":"7.60","unit_price_net":"7.6000","unit_cost":"4.5600"}]',X'7B22736B75223A2253542D31222C226E616D65223A22506C616E74207374616B65222C226368616E6E656C223A227374616C6C222C226F7574636F6D65223A226E6577222C22756E6465725F666C6F6F72223A66616C73652C22756E6465725F666C6F6F725F69665F6B657074223A66616C73652C22627265616B73223A5B7B2266726F6D5F7175616E74697479223A312C22756E69745F7072696365223A22372E3630222C22756E69745F636F7374223A22342E35363030222C226D617267696E5F706374223A2234302E3030222C226C656173745F6D617267696E5F706374223A2234302E3030222C226C656173745F6D617267696E5F6174223A312C226D6F7665645F6279223A5B5D7D2C7B2266726F6D5F7175616E74697479223A31302C22756E69745F7072696365223A22372E3630222C22756E69745F636F7374223A22342E35363030222C226D617267696E5F706374223A2234302E3030222C226C656173745F6D617267696E5F706374223A2234302E3030222C226C656173745F6D617267696E5F6174223A31302C226D6F7665645F6279223A5B5D7D5D7D');
INSERT INTO "repricing_line" VALUES('e390e7ce7e1d2570','ST-2','new',0,0,0.0,0.0,NULL,1,1,'stall','[{"from_quantity":1,"unit_price":"9.12","unit_price_net":"9.1200","unit_cost":"4.5600"},{"from_quantity":10,"unit_price":"9.12","unit_price_net":"9.1200","unit_cost":"4.5600"}]',X'7B22736B75223A2253542D32222C226E616D65223A22506C616E74207374616B65222C226368616E6E656C223A227374616C6C222C226F7574636F6D65223A226E6577222C22756E6465725F666C6F6F72223A66616C73652C22756E6465725F666C6F6F725F69665F6B657074223A66616C73652C22627265616B73223A5B7B2266726F6D5F7175616E74697479223A312C22756E69745F7072696365223A22392E3132222C22756E69745F636F7374223A22342E35363030222C226D617267696E5F706374223A2235302E3030222C226C656173745F6D617267696E5F706374223A2235302E3030222C226C656173745F6D617267696E5F6174223A312C226D6F7665645F6279223A5B5D7D2C7B2266726F6D5F7175616E74697479223A31302C22756E69745F7072696365223A22392E3132222C22756E69745F636F7374223A22342E35363030222C226D617267696E5F706374223A2235302E3030222C226C656173745F6D617267696E5F706374223A2235302E3030222C226C656173745F6D617267696E5F6174223A31302C226D6F7665645F6279223A5B5D7D5D7D');
CREATE TABLE revision (
        number INTEGER PRIMARY KEY CHECK (number > 0),
        known_since TEXT NOT NULL,
        effective_from TEXT NOT NULL
            CHECK (date(effective_from, '+0 days') IS effective_from),
        made_by TEXT NOT NULL,
        note TEXT NOT NULL,
        changes INTEGER NOT NULL CHECK (changes > 0)
    ) STRICT
    ;
INSERT INTO "revision" VALUES(1,'2026-11-29T16:36:54+00:00','2026-11-29','command line','how we begin',6);
INSERT INTO "revision" VALUES(2,'2026-11-29T16:36:54+00:00','2099-01-01','command line','dearer from then on',2);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX rate_change_by_day ON rate_change (effective_from);
CREATE INDEX rate_change_by_revision ON rate_change (revision);
CREATE TRIGGER revision_is_never_changed BEFORE UPDATE ON revision
        BEGIN SELECT RAISE(ABORT, 'revision: history is only added to'); END;
CREATE TRIGGER revision_is_never_deleted BEFORE DELETE ON revision
        BEGIN SELECT RAISE(ABORT, 'revision: history is only added to'); END;
CREATE TRIGGER rate_change_is_never_changed BEFORE UPDATE ON rate_change
        BEGIN SELECT RAISE(ABORT, 'rate_change: history is only added to'); END;
CREATE TRIGGER rate_change_is_never_deleted BEFORE DELETE ON rate_change
        BEGIN SELECT RAISE(ABORT, 'rate_change: history is only added to'); END;
CREATE TRIGGER revision_follows_the_newest BEFORE INSERT ON revision
    WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM revision)
    BEGIN SELECT RAISE(ABORT, 'revision: numbers follow each other'); END;
CREATE TRIGGER rate_change_joins_the_newest BEFORE INSERT ON rate_change
    WHEN NEW.revision <> (SELECT coalesce(max(number), 0) FROM revision)
        OR (SELECT effective_from FROM revision WHERE number = NEW.revision)
            <> NEW.effective_from
        OR (SELECT changes FROM revision WHERE number = NEW.revision)
            <= (SELECT count(*) FROM rate_change WHERE revision = NEW.revision)
    BEGIN SELECT RAISE(ABORT, 'rate_change: its revision is closed, or of another day'); END;
CREATE TRIGGER rate_change_is_never_replaced BEFORE INSERT ON rate_change
    WHEN EXISTS (
        SELECT 1 FROM rate_change
        WHERE kind = NEW.kind AND code = NEW.code
            AND effective_from = NEW.effective_from AND revision = NEW.revision
    )
    BEGIN SELECT RAISE(ABORT, 'rate_change: history is only added to'); END;
CREATE TRIGGER access_key_is_never_replaced BEFORE INSERT ON access_key
    WHEN EXISTS (SELECT 1 FROM access_key WHERE name = NEW.name OR hash = NEW.hash)
    BEGIN SELECT RAISE(ABORT, 'access_key: revoke it instead'); END;
CREATE TRIGGER access_key_is_never_deleted BEFORE DELETE ON access_key
    BEGIN SELECT RAISE(ABORT, 'access_key: revoke it instead'); END;
CREATE TRIGGER access_key_is_only_revoked BEFORE UPDATE ON access_key
    WHEN OLD.revoked_at IS NOT NULL OR NEW.name <> OLD.name OR NEW.hash <> OLD.hash
        OR NEW.scopes <> OLD.scopes OR NEW.channels IS NOT OLD.channels
        OR NEW.added_at <> OLD.added_at OR NEW.expires_at IS NOT OLD.expires_at
    BEGIN SELECT RAISE(ABORT, 'access_key: it can be revoked, once, and nothing else'); END;
CREATE INDEX answered_call_by_time ON answered_call (answered_at);
CREATE INDEX product_use_by_rate ON product_use (kind, code);
CREATE INDEX listing_by_product ON listing (product, variant);
CREATE INDEX listing_by_channel ON listing (channel);
CREATE INDEX listing_by_rates ON listing (looked_at_revision, looked_at_day);
CREATE INDEX price_change_by_sku ON price_change (sku, effective_from, change);
CREATE INDEX price_change_planned ON price_change (effective_from) WHERE planned;
CREATE INDEX price_change_by_channel ON price_change (channel, change);
CREATE TRIGGER entry_version_is_never_changed BEFORE UPDATE ON entry_version
        BEGIN SELECT RAISE(ABORT, 'entry_version: history is only added to'); END;
CREATE TRIGGER entry_version_is_never_deleted BEFORE DELETE ON entry_version
        BEGIN SELECT RAISE(ABORT, 'entry_version: history is only added to'); END;
CREATE TRIGGER price_change_is_never_changed BEFORE UPDATE ON price_change
        BEGIN SELECT RAISE(ABORT, 'price_change: history is only added to'); END;
CREATE TRIGGER price_change_is_never_deleted BEFORE DELETE ON price_change
        BEGIN SELECT RAISE(ABORT, 'price_change: history is only added to'); END;
CREATE TRIGGER entry_version_is_never_replaced BEFORE INSERT ON entry_version
    WHEN EXISTS (
        SELECT 1 FROM entry_version
        WHERE kind = NEW.kind AND name = NEW.name AND version >= NEW.version
    )
    BEGIN SELECT RAISE(ABORT, 'entry_version: history is only added to'); END;
CREATE TRIGGER price_change_is_never_replaced BEFORE INSERT ON price_change
    WHEN EXISTS (SELECT 1 FROM price_change WHERE change >= NEW.change)
    BEGIN SELECT RAISE(ABORT, 'price_change: numbers only grow'); END;
CREATE TRIGGER product_is_added AFTER INSERT ON product
        BEGIN INSERT INTO entry_version VALUES
            ('product', NEW.code, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END;
CREATE TRIGGER product_is_changed AFTER UPDATE OF version, value ON product
        BEGIN INSERT INTO entry_version VALUES
            ('product', NEW.code, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END;
CREATE TRIGGER product_is_not_lost BEFORE DELETE ON product
        WHEN NOT EXISTS (
            SELECT 1 FROM entry_version
            WHERE kind = 'product' AND name = OLD.code AND version > OLD.version
        )
        BEGIN SELECT RAISE(ABORT, 'product: who takes it away is told first'); END;
CREATE TRIGGER product_versions_follow BEFORE UPDATE OF version, value ON product
        WHEN NEW.version <> OLD.version + 1 OR NEW.code <> OLD.code
        BEGIN SELECT RAISE(ABORT, 'product: versions follow each other'); END;
CREATE TRIGGER listing_is_added AFTER INSERT ON listing
        BEGIN INSERT INTO entry_version VALUES
            ('listing', NEW.sku, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END;
CREATE TRIGGER listing_is_changed AFTER UPDATE OF version, value ON listing
        BEGIN INSERT INTO entry_version VALUES
            ('listing', NEW.sku, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END;
CREATE TRIGGER listing_is_not_lost BEFORE DELETE ON listing
        WHEN NOT EXISTS (
            SELECT 1 FROM entry_version
            WHERE kind = 'listing' AND name = OLD.sku AND version > OLD.version
        )
        BEGIN SELECT RAISE(ABORT, 'listing: who takes it away is told first'); END;
CREATE TRIGGER listing_versions_follow BEFORE UPDATE OF version, value ON listing
        WHEN NEW.version <> OLD.version + 1 OR NEW.sku <> OLD.sku
        BEGIN SELECT RAISE(ABORT, 'listing: versions follow each other'); END;
CREATE INDEX repricing_line_worst_first
        ON repricing_line (repricing, standing, sku)
    ;
COMMIT;

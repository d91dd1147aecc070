package journal

import (
	"fmt"
)

// applicationID marks the file as a journal of this program ("Lath"), so that an empty or foreign file is never taken for a
// fresh start.
const applicationID = 0x4c617468

// migrations bring a file from version i to i+1, each in the one transaction that also writes the version. They are never
// edited once released: testdata/journals holds a file of every version.
var migrations = []string{
	0: `
create table meta (name text primary key, value text not null) without rowid;
create table series (id integer primary key, probe text not null, unit text not null, num integer not null, den integer not null,
	since integer not null, unique (probe, unit, num, den));
create table tail (t integer primary key, b blob not null);
create table block (k integer primary key, b blob not null);
create table zone (id integer primary key, name text not null unique);
create table day (k integer primary key, zone integer not null, n integer not null, min integer not null, max integer not null,
	sum integer not null, covered integer not null);
create table note (id text primary key, at integer not null, made integer not null, about integer not null, subject text not null,
	what text not null, detail text not null);
create index note_at on note (at, id);
create table garden (at integer not null, id text not null, text text not null, primary key (at, id));
create table late (seq integer primary key autoincrement, id text not null, arrived integer not null, first integer not null,
	last integer not null, n integer not null);
create table change (seq integer primary key autoincrement, key text not null unique, at integer not null, kind text not null,
	rank integer not null, state integer not null, subject text not null, place text not null, pots text not null,
	text text not null, recipient text not null, until integer not null);
create index change_at on change (at, seq);
create table expired (way text not null, seq integer not null, at integer not null, primary key (way, seq)) without rowid;
create table mark (name text primary key, value integer not null) without rowid;
create table retained (topic text primary key, since integer not null, payload blob not null) without rowid;
create table session (hash text primary key, expires integer not null, label text not null) without rowid;
create table held (id integer primary key, boot text not null, mono integer not null, b blob not null);
create table season (season integer not null, name text not null, version integer not null, data text not null,
	primary key (season, name)) without rowid;
create table aside (seq integer primary key autoincrement, name text not null, at integer not null, line text not null,
	answer text not null);
`,
	1: "alter table change add column saw text not null default ''",
	2: `
create table start (seq integer primary key autoincrement, at integer not null, boot text not null, version text not null,
	ended integer not null, how text not null, why text not null);
`,
}

// migrate brings the file up to date. before is called once, when data of an older version is about to be changed.
func migrate(c *conn, before func(version int64) error) error {
	v, _, err := c.number("pragma user_version")
	if err != nil {
		return err
	}
	if v > int64(len(migrations)) {
		return fmt.Errorf("the journal is of version %d, this program knows up to %d: use a newer program", v, len(migrations))
	}
	if v == int64(len(migrations)) {
		return nil
	}
	if v > 0 {
		if err := before(v); err != nil {
			return fmt.Errorf("backing up before bringing the journal from version %d to %d: %w", v, len(migrations), err)
		}
	}
	if err := c.begin(); err != nil {
		return err
	}
	defer c.rollback()
	for i := v; i < int64(len(migrations)); i++ {
		if err := c.script(migrations[i]); err != nil {
			return fmt.Errorf("bringing the journal to version %d: %w", i+1, err)
		}
	}
	if err := c.script(fmt.Sprintf("pragma application_id = %d; pragma user_version = %d", applicationID, len(migrations))); err != nil {
		return err
	}
	return c.commit()
}

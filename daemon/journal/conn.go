package journal

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path/filepath"

	"modernc.org/sqlite"
)

// conn is the one connection, spoken to without database/sql: a pool that may reconnect behind our back is just what an
// exclusive lock must not have.
type conn struct {
	c     driver.Conn
	stmts map[string]driver.Stmt
	tx    driver.Tx
}

// pragmas come before the log is opened, so that the lock is exclusive by then, the log's index lives in memory and a full card cannot
// keep the file from opening. The driver sorts what is given as _pragma by name, which would put journal_mode before locking_mode;
// its own keys for the journal's mode and syncing are applied after the list.
var (
	pragmas  = []string{"locking_mode(EXCLUSIVE)", "temp_store(MEMORY)", "trusted_schema(0)", "cell_size_check(1)"}
	logModes = []string{"_journal_mode", "WAL", "_synchronous", "FULL"}
)

// logLimit is what the write-ahead log is cut to after a checkpoint.
const logLimit = "pragma journal_size_limit = 4194304"

func dsn(path string, pragmas []string, more ...string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	q := url.Values{"_txlock": {"immediate"}, "_busy_timeout": {"1000"}, "_pragma": pragmas, "_error_rc": {"1"}}
	for i := 0; i+1 < len(more); i += 2 {
		q.Set(more[i], more[i+1])
	}
	return (&url.URL{Scheme: "file", Path: abs, RawQuery: q.Encode()}).String(), nil
}

func connect(dsn string) (*conn, error) {
	if _, err := sqlite.Fdatasync(true); err != nil && !errors.Is(err, sqlite.ErrFdatasyncUnavailable) {
		return nil, err
	}
	c, err := new(sqlite.Driver).Open(dsn)
	if err != nil {
		return nil, err
	}
	return &conn{c: c, stmts: map[string]driver.Stmt{}}, nil
}

// close ends every statement first: a connection closed before its statements lives on and leaves its log behind.
func (c *conn) close() error {
	var errs []error
	for _, s := range c.stmts {
		errs = append(errs, s.Close())
	}
	c.stmts = map[string]driver.Stmt{}
	return errors.Join(append(errs, c.c.Close())...)
}

func (c *conn) stmt(sql string) (driver.Stmt, error) {
	if s, ok := c.stmts[sql]; ok {
		return s, nil
	}
	s, err := c.c.(driver.ConnPrepareContext).PrepareContext(context.Background(), sql)
	if err != nil {
		return nil, err
	}
	c.stmts[sql] = s
	return s, nil
}

// exec runs one statement and gives how many rows it changed.
func (c *conn) exec(sql string, args ...any) (int64, error) {
	s, err := c.stmt(sql)
	if err != nil {
		return 0, err
	}
	r, err := s.(driver.StmtExecContext).ExecContext(context.Background(), bind(args))
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// script runs several statements, or one that is not worth keeping.
func (c *conn) script(sql string) error {
	_, err := c.c.(driver.ExecerContext).ExecContext(context.Background(), sql, nil)
	return err
}

var errStop = errors.New("enough rows")

// query calls each with every row; the row is reused. An error of each ends the reading and is returned, errStop as nil.
func (c *conn) query(sql string, each func(row []driver.Value) error, args ...any) (err error) {
	s, err := c.stmt(sql)
	if err != nil {
		return err
	}
	rows, err := s.(driver.StmtQueryContext).QueryContext(context.Background(), bind(args))
	if err != nil {
		return err
	}
	defer func() {
		if e := rows.Close(); err == nil && e != nil {
			err = e
		}
	}()
	row := make([]driver.Value, len(rows.Columns()))
	for {
		if err := rows.Next(row); err != nil {
			if err == io.EOF {
				return nil
			}
			return err
		}
		if err := each(row); err != nil {
			if err == errStop {
				return nil
			}
			return err
		}
	}
}

// number gives the first column of the first row as an integer; ok is false when there is no row or it is null.
func (c *conn) number(sql string, args ...any) (n int64, ok bool, err error) {
	err = c.query(sql, func(row []driver.Value) error {
		n, ok = row[0].(int64)
		return errStop
	}, args...)
	return n, ok, err
}

// word gives the first column of the first row as text.
func (c *conn) word(sql string, args ...any) (s string, ok bool, err error) {
	err = c.query(sql, func(row []driver.Value) error {
		s, ok = row[0].(string)
		return errStop
	}, args...)
	return s, ok, err
}

func (c *conn) begin() error {
	tx, err := c.c.(driver.ConnBeginTx).BeginTx(context.Background(), driver.TxOptions{})
	c.tx = tx
	return err
}

func (c *conn) commit() error {
	tx := c.tx
	c.tx = nil
	return tx.Commit()
}

func (c *conn) rollback() {
	if tx := c.tx; tx != nil {
		c.tx = nil
		_ = tx.Rollback() // fails only when the engine has already rolled back by itself
	}
}

func bind(args []any) []driver.NamedValue {
	vs := make([]driver.NamedValue, len(args))
	for i, a := range args {
		vs[i].Ordinal = i + 1
		switch a := a.(type) {
		case int:
			vs[i].Value = int64(a)
		case int64, string, []byte, nil:
			vs[i].Value = a
		case bool:
			vs[i].Value = int64(0)
			if a {
				vs[i].Value = int64(1)
			}
		default:
			panic(fmt.Sprintf("journal: a %T is not stored: times are whole milliseconds, names are strings", a))
		}
	}
	return vs
}

package journal

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// The engine's own file layer, with a counter on what is handed to write calls and on syncs: no root and no clock needed.
var counted struct {
	once        sync.Once
	only        string // files whose path holds this
	bytes, sync atomic.Int64
	open        uintptr // the layer's own functions
	write, fsyn uintptr
	copies      map[uintptr]uintptr // of method tables, of which the layer has several, with the counting ones put in
}

const ( // offsets in sqlite3_vfs and sqlite3_io_methods on 64 bits
	vfsOpen      = 40
	methodsWrite = 24
	methodsSync  = 40
	methodsSize  = 152
)

func pointer[F any](f F) uintptr { return *(*uintptr)(unsafe.Pointer(&struct{ f F }{f})) }

func function[F any](p uintptr) F { return *(*F)(unsafe.Pointer(&struct{ p uintptr }{p})) }

func countWrites(t testing.TB, only string) {
	t.Helper()
	if unsafe.Sizeof(uintptr(0)) != 8 || runtime.GOOS != "linux" {
		t.Skip("the counter knows the layout of 64-bit Linux only")
	}
	counted.only = only
	counted.bytes.Store(0)
	counted.sync.Store(0)
	counted.once.Do(func() {
		counted.copies = map[uintptr]uintptr{}
		tls := libc.NewTLS()
		vfs := sqlite3.Xsqlite3_vfs_find(tls, 0)
		counted.open = libc.AtomicLoadPUintptr(vfs + vfsOpen)
		libc.AtomicStorePUintptr(vfs+vfsOpen, pointer(countedOpen))
	})
}

func countedOpen(tls *libc.TLS, vfs, path, file uintptr, flags int32, out uintptr) int32 {
	rc := function[func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32](counted.open)(tls, vfs, path, file, flags, out)
	methods := libc.AtomicLoadPUintptr(file)
	if rc != 0 || methods == 0 || path == 0 || counted.only == "" || !strings.Contains(libc.GoString(path), counted.only) {
		return rc
	}
	if counted.copies[methods] == 0 {
		c := libc.Xmalloc(tls, methodsSize)
		libc.Xmemcpy(tls, c, methods, methodsSize)
		counted.write = libc.AtomicLoadPUintptr(methods + methodsWrite)
		counted.fsyn = libc.AtomicLoadPUintptr(methods + methodsSync)
		libc.AtomicStorePUintptr(c+methodsWrite, pointer(countedWrite))
		libc.AtomicStorePUintptr(c+methodsSync, pointer(countedSync))
		counted.copies[methods] = c
	}
	libc.AtomicStorePUintptr(file, counted.copies[methods])
	return rc
}

func countedWrite(tls *libc.TLS, file, buf uintptr, n int32, at int64) int32 {
	counted.bytes.Add(int64(n))
	return function[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](counted.write)(tls, file, buf, n, at)
}

func countedSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	counted.sync.Add(1)
	return function[func(*libc.TLS, uintptr, int32) int32](counted.fsyn)(tls, file, flags)
}

// costOfRounds keeps days of live rounds, a commit each, and gives bytes and syncs a commit.
func costOfRounds(t testing.TB, days int) (bytes, syncs float64) {
	countWrites(t, "counted")
	j := open(t, filepath.Join(dir(t), "counted.journal"), Options{Ballast: -1})
	fs := figures(20)
	if err := j.KeepAll(bg, figureDay(fs, 0)); err != nil {
		t.Fatal(err)
	}
	b0, s0, n := counted.bytes.Load(), counted.sync.Load(), 0
	for day := 1; day <= days; day++ {
		for _, k := range figureDay(fs, day) {
			if err := j.Keep(bg, k.Round, nil); err != nil {
				t.Fatal(err)
			}
			n++
		}
	}
	b, s := counted.bytes.Load()-b0, counted.sync.Load()-s0
	counted.only = ""
	return float64(b) / float64(n), float64(s) / float64(n)
}

// costOfRows does the same with a row a reading, clustered by series, as a plain design would have it.
func costOfRows(t testing.TB) (bytes float64) {
	countWrites(t, "counted")
	c := rowTable(t, filepath.Join(dir(t), "counted.rows"))
	fs := figures(20)
	for day := range 3 {
		rowDay(t, c, fs, day)
	}
	b0 := counted.bytes.Load()
	ks := figureDay(fs, 3)[:300]
	for _, k := range ks {
		if err := c.begin(); err != nil {
			t.Fatal(err)
		}
		insertRows(t, c, k)
		if err := c.commit(); err != nil {
			t.Fatal(err)
		}
	}
	b := counted.bytes.Load() - b0
	counted.only = ""
	return float64(b) / float64(len(ks))
}

// rowTable is the peer: one row a reading, integers, clustered by series and time, with the same settings.
func rowTable(t testing.TB, path string) *conn {
	t.Helper()
	name, err := dsn(path, pragmas, logModes...)
	if err != nil {
		t.Fatal(err)
	}
	c, err := connect(name)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.close() })
	if err := c.script("create table r (s integer, t integer, v integer, primary key (s, t)) without rowid"); err != nil {
		t.Fatal(err)
	}
	return c
}

func insertRows(t testing.TB, c *conn, k Kept) {
	for _, r := range k.Round.Readings {
		var s int64
		_, _ = fmt.Sscanf(string(r.Probe), "p%d", &s)
		if _, err := c.exec("insert into r (s, t, v) values (?, ?, ?)", s, k.Round.At.Unix(), r.Raw); err != nil {
			t.Fatal(err)
		}
	}
}

const rowsAtOnce = 48

var insertTexts [rowsAtOnce + 1]string

func insertMany(n int) string {
	if insertTexts[n] == "" {
		insertTexts[n] = "insert into r (s, t, v) values (?, ?, ?)" + strings.Repeat(", (?, ?, ?)", n-1)
	}
	return insertTexts[n]
}

// rowDay inserts a day in one transaction, a series at a time.
func rowDay(t testing.TB, c *conn, fs []*figure, day int) (n int) {
	t.Helper()
	if err := c.begin(); err != nil {
		t.Fatal(err)
	}
	from := figureStart.Add(time.Duration(day) * 24 * time.Hour).Unix()
	var args []any
	for s, f := range fs {
		for m := range 1440 {
			if raw, ok := f.at(day*1440 + m); ok {
				n++
				args = append(args, int64(s), from+int64(m)*60, raw)
			}
			if len(args) == 3*rowsAtOnce || m == 1439 && len(args) > 0 {
				if _, err := c.exec(insertMany(len(args)/3), args...); err != nil {
					t.Fatal(err)
				}
				args = args[:0]
			}
		}
	}
	if err := c.commit(); err != nil {
		t.Fatal(err)
	}
	return n
}

// A round of 20 probes may hand at most 6 KB to write calls, a fifteenth of what rows need, and is synced once.
func TestARoundCostsFewBytesAndOneSync(t *testing.T) {
	bytes, syncs := costOfRounds(t, 3)
	rows := costOfRows(t)
	t.Logf("%.0f bytes and %.3f syncs a commit; a row table %.0f bytes, %.1f times as many", bytes, syncs, rows, rows/bytes)
	if bytes > 6000 || syncs > 1.05 || syncs < 1 || rows/bytes < 15 {
		t.Error("a round costs more than it may")
	}
}

package journal

import (
	"encoding/binary"
	"io"
	"math"
	"os"
)

// A pageFile reads the pages of a damaged file without the engine, after "Database File Format" (sqlite.org/fileformat2.html): every
// leaf page is taken by itself, whether or not the tree above it still stands. Pages of the write-ahead log are taken as well,
// newest first, since the newest rounds lie there.
type pageFile struct {
	main *os.File
	wal  *os.File
	size int
	n    int64           // pages in the main file
	logs map[int64]int64 // page number -> offset of its newest image in the log
	all  []int64         // offsets of all page images in the log
}

const walHeader, frameHeader = 32, 24

func openPages(path, walPath string) (*pageFile, error) {
	p := &pageFile{size: 4096, logs: map[int64]int64{}}
	var err error
	if p.main, err = os.Open(path); err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	if p.main != nil {
		if fi, err := p.main.Stat(); err == nil {
			p.n = (fi.Size() + int64(p.size) - 1) / int64(p.size)
		}
	}
	if p.wal, err = os.Open(walPath); err == nil {
		p.indexLog()
	}
	return p, nil
}

func (p *pageFile) close() {
	if p.main != nil {
		_ = p.main.Close()
	}
	if p.wal != nil {
		_ = p.wal.Close()
	}
}

func (p *pageFile) indexLog() {
	fi, err := p.wal.Stat()
	if err != nil {
		return
	}
	head := make([]byte, 4)
	for at := int64(walHeader); at+frameHeader < fi.Size(); at += frameHeader + int64(p.size) {
		if _, err := p.wal.ReadAt(head, at); err != nil {
			return
		}
		no := int64(binary.BigEndian.Uint32(head))
		p.logs[no] = at + frameHeader
		p.all = append(p.all, at+frameHeader)
	}
}

// page reads one page by number, its newest image in the log first; nil when there is none.
func (p *pageFile) page(no int64) []byte {
	if at, ok := p.logs[no]; ok {
		if b := p.read(p.wal, at); b != nil {
			return b
		}
	}
	if p.main == nil || no < 1 || no > p.n {
		return nil
	}
	return p.read(p.main, (no-1)*int64(p.size))
}

func (p *pageFile) read(f *os.File, at int64) []byte {
	b := make([]byte, p.size)
	n, err := f.ReadAt(b, at)
	if n == 0 || err != nil && err != io.EOF {
		return nil
	}
	return b // a page that is cut short ends in noughts
}

// each calls with every page image there is, and whether it is the first page of the file, whose tree begins after a header.
func (p *pageFile) each(call func(b []byte, first bool)) {
	for no := int64(1); no <= p.n; no++ {
		if b := p.read(p.main, (no-1)*int64(p.size)); b != nil {
			call(b, no == 1)
		}
	}
	for _, at := range p.all {
		if b := p.read(p.wal, at); b != nil {
			call(b, false)
		}
	}
}

// A pageRow is one row: its columns as int64, float64, string, []byte or nil.
type pageRow struct {
	rowid int64 // 0 in a tree without rowids
	cols  []any
}

// records calls with every row of a leaf page that can be read.
func (p *pageFile) records(b []byte, first bool, call func(pageRow)) {
	h := 0
	if first {
		h = 100
	}
	kind := b[h]
	if kind != 0x0d && kind != 0x0a { // leaf of a table, leaf of an index (tables without rowid)
		return
	}
	cells := int(binary.BigEndian.Uint16(b[h+3:]))
	for i := range min(cells, (len(b)-h-8)/2) {
		at := int(binary.BigEndian.Uint16(b[h+8+2*i:]))
		if at < h+8 || at >= len(b) {
			continue
		}
		if r, ok := p.cell(b, b[at:], kind == 0x0d); ok {
			call(r)
		}
	}
}

func (p *pageFile) cell(page, c []byte, table bool) (r pageRow, ok bool) {
	size, n := bigVarint(c)
	if n == 0 || size > 1<<30 {
		return r, false
	}
	c = c[n:]
	if table {
		id, n := bigVarint(c)
		if n == 0 {
			return r, false
		}
		r.rowid, c = int64(id), c[n:]
	}
	payload, ok := p.payload(c, int(size), table)
	if !ok {
		return r, false
	}
	r.cols, ok = columnsOf(payload)
	return r, ok
}

// payload gathers a row that goes on on overflow pages.
func (p *pageFile) payload(c []byte, size int, table bool) ([]byte, bool) {
	u := p.size
	most := u - 35
	if !table {
		most = (u-12)*64/255 - 23
	}
	if size <= most {
		if size > len(c) {
			return nil, false
		}
		return c[:size], true
	}
	least := (u-12)*32/255 - 23
	local := least + (size-least)%(u-4)
	if local > most {
		local = least
	}
	if local+4 > len(c) {
		return nil, false
	}
	out := append(make([]byte, 0, min(size, 1<<20)), c[:local]...)
	next := int64(binary.BigEndian.Uint32(c[local:]))
	for hops := 0; len(out) < size && hops < 1<<15; hops++ {
		b := p.page(next)
		if b == nil {
			return nil, false
		}
		next = int64(binary.BigEndian.Uint32(b))
		out = append(out, b[4:4+min(u-4, size-len(out))]...)
	}
	return out, len(out) == size
}

// columnsOf decodes a record.
func columnsOf(b []byte) ([]any, bool) {
	head, n := bigVarint(b)
	if n == 0 || head < uint64(n) || head > uint64(len(b)) {
		return nil, false
	}
	types, body := b[n:head], b[head:]
	var cols []any
	for len(types) > 0 {
		t, n := bigVarint(types)
		if n == 0 || len(cols) > 32 {
			return nil, false
		}
		types = types[n:]
		v, size, ok := valueOf(t, body)
		if !ok {
			return nil, false
		}
		cols, body = append(cols, v), body[size:]
	}
	return cols, true
}

func valueOf(t uint64, b []byte) (v any, size int, ok bool) {
	switch {
	case t == 0:
		return nil, 0, true
	case t <= 6:
		size = []int{0, 1, 2, 3, 4, 6, 8}[t]
		if size > len(b) {
			return nil, 0, false
		}
		n := int64(int8(b[0]))
		for _, x := range b[1:size] {
			n = n<<8 | int64(x)
		}
		return n, size, true
	case t == 7:
		if len(b) < 8 {
			return nil, 0, false
		}
		return math.Float64frombits(binary.BigEndian.Uint64(b)), 8, true
	case t == 8, t == 9:
		return int64(t - 8), 0, true
	case t < 12:
		return nil, 0, false
	}
	n := (t - 12) / 2
	if n > uint64(len(b)) {
		return nil, 0, false
	}
	if t%2 == 0 {
		return append([]byte(nil), b[:n]...), int(n), true
	}
	return string(b[:n]), int(n), true
}

// bigVarint reads the engine's own kind of varint: seven bits a byte, highest first, all eight of a ninth. n is 0 when cut short.
func bigVarint(b []byte) (v uint64, n int) {
	for i := 0; i < 9 && i < len(b); i++ {
		if i == 8 {
			return v<<8 | uint64(b[8]), 9
		}
		v = v<<7 | uint64(b[i]&0x7f)
		if b[i] < 0x80 {
			return v, i + 1
		}
	}
	return 0, 0
}

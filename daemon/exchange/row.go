package exchange

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// Rounds are the rounds of a stretch of the past, for writing.
func Rounds(entries sensors.Entries) iter.Seq2[*sensors.Round, error] {
	return func(yield func(*sensors.Round, error) bool) {
		for e, err := range entries {
			if err != nil {
				yield(nil, err)
				return
			}
			if e.Round != nil && !yield(e.Round, nil) {
				return
			}
		}
	}
}

// A Tally counts what was written.
type Tally struct {
	Readings int
	LeftOut  int // suspect readings a format has no word for
}

// Read takes a file apart by its kind.
type Read struct {
	Rows  []sensors.LateReading // by time and probe, each once
	Lines []int                 // where each row stood
	Bad   []*tape.RowError      // by line
	// Passed counts lines of another matter, such as faults in line protocol.
	Passed int
}

// Import puts what was read into the journal, a day at a time, as readings that came late. The same file twice is one file.
func Import(ctx context.Context, j *journal.Journal, id string, arrived time.Time, rows []sensors.LateReading) (journal.LateResult, error) {
	return j.AddLate(ctx, arrived, sensors.Late{ID: id, Readings: rows})
}

// maxPlain is how many bytes of text one file may be, unpacked: two and a half years of twenty probes at five minutes. A packed file of a
// megabyte may hold a thousand times that.
const maxPlain = 256 << 20

// Plain gives the text of a file that may be gzipped. Reading beyond 256 MiB of text is an error.
func Plain(r io.Reader) (io.Reader, error) {
	plain, err := unpacked(r)
	return &bounded{plain, maxPlain}, err
}

// bounded reads at most so many bytes; more is an error and not an end.
type bounded struct {
	r    io.Reader
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left < 0 {
		return 0, errors.New("the text is too long for one import: cut it in parts")
	}
	n, err := b.r.Read(p[:min(int64(len(p)), b.left+1)])
	if b.left -= int64(n); b.left < 0 {
		return n - 1, errors.New("the text is too long for one import: cut it in parts")
	}
	return n, err
}

func unpacked(r io.Reader) (io.Reader, error) {
	in := bufio.NewReader(r)
	if head, err := in.Peek(2); err != nil || !bytes.Equal(head, []byte{0x1f, 0x8b}) {
		return in, nil
	}
	z, err := gzip.NewReader(in)
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w", err)
	}
	return z, nil
}

// A gatherer turns rows of any format into lines of a readings.csv, which has the one strict reader, and remembers where each was.
type gatherer struct {
	name  string
	text  bytes.Buffer
	lines []int // of the original, for each line gathered
	exact map[int]sensors.Reading
	bad   []*tape.RowError
	out   Read
}

func newGatherer(name string) *gatherer {
	g := &gatherer{name: name, exact: map[int]sensors.Reading{}, lines: []int{0, 1}}
	g.text.WriteString("time,probe,value,unit\n")
	return g
}

func (g *gatherer) refuse(line int, format string, a ...any) {
	g.bad = append(g.bad, &tape.RowError{File: g.name, Line: line, Say: fmt.Sprintf(format, a...)})
}

// add gathers one reading; exact, when not nil, is what it was before it was written as a decimal.
func (g *gatherer) add(line int, at time.Time, probe, value, unit string, exact *sensors.Reading) {
	for _, s := range []string{probe, value, unit} {
		if strings.ContainsAny(s, ",\r\n\"") {
			g.refuse(line, "%q is not what stands there in such a row", s)
			return
		}
	}
	fmt.Fprintf(&g.text, "%s,%s,%s,%s\n", at.UTC().Format(time.RFC3339Nano), probe, value, unit)
	if exact != nil {
		g.exact[len(g.lines)] = *exact
	}
	g.lines = append(g.lines, line)
}

var atLine = regexp.MustCompile(`at line (\d+)`)

func (g *gatherer) read() (Read, error) {
	rows, bad, err := tape.ReadReadings(g.name, &g.text)
	if err != nil {
		return g.out, err
	}
	for _, b := range bad {
		b.Line = g.lines[b.Line]
		b.Say = atLine.ReplaceAllStringFunc(b.Say, func(s string) string {
			n, _ := strconv.Atoi(strings.TrimPrefix(s, "at line "))
			return fmt.Sprint("at line ", g.lines[n])
		})
	}
	g.out.Rows, g.out.Lines = make([]sensors.LateReading, len(rows)), make([]int, len(rows))
	for i, r := range rows {
		reading := r.Reading()
		if e, ok := g.exact[r.Line]; ok {
			if sameQuantity(e, reading) {
				reading = e
			}
			reading.Quality = e.Quality
		}
		g.out.Rows[i], g.out.Lines[i] = sensors.LateReading{At: r.At, Reading: reading}, g.lines[r.Line]
	}
	g.out.Bad = sorted(append(g.bad, bad...))
	return g.out, nil
}

// sameQuantity reports whether two readings of a probe say the same, in whatever steps.
func sameQuantity(a, b sensors.Reading) bool {
	return a.Unit() == b.Unit() && a.Step.Den != 0 && b.Step.Den != 0 && quantity(a).Cmp(quantity(b)) == 0
}

func quantity(r sensors.Reading) *big.Rat {
	q := big.NewRat(int64(r.Step.Num), int64(r.Step.Den))
	return q.Mul(q, new(big.Rat).SetInt64(r.Raw))
}

// decimal writes a reading in its printed unit with all its digits, nine after the point at most.
func decimal(r sensors.Reading) string {
	q := quantity(r)
	return plain(q.Quo(q, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(r.Unit().Digits())), nil))))
}

func plain(q *big.Rat) string {
	s := q.FloatString(9)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

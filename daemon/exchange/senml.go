package exchange

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// MediaType of one line (RFC 8428 section 12.3).
const MediaType = "application/senml+json"

// A record is one SenML record (RFC 8428 section 4). raw, num, den and suspect are labels of our own, which others pass over: with
// them a reading comes back in the very counts it was.
type record struct {
	BaseName  string       `json:"bn,omitempty"`
	BaseTime  json.Number  `json:"bt,omitempty"`
	BaseUnit  string       `json:"bu,omitempty"`
	BaseValue json.Number  `json:"bv,omitempty"`
	Name      string       `json:"n,omitempty"`
	Unit      string       `json:"u,omitempty"`
	Time      json.Number  `json:"t,omitempty"`
	Value     *json.Number `json:"v,omitempty"`
	Raw       *int64       `json:"raw,omitempty"`
	Num       int32        `json:"num,omitempty"`
	Den       int32        `json:"den,omitempty"`
	Suspect   bool         `json:"suspect,omitempty"`
}

// WriteSenML writes a pack a round, a pack a line. node, when not empty, is the base name's first part.
func WriteSenML(w io.Writer, node string, rounds iter.Seq2[*sensors.Round, error]) (t Tally, err error) {
	out := bufio.NewWriterSize(w, 1<<16)
	enc := json.NewEncoder(out)
	for r, err := range rounds {
		if err != nil {
			return t, err
		}
		if len(r.Readings) == 0 {
			continue
		}
		pack := make([]record, len(r.Readings))
		for i, rd := range r.Readings {
			v := json.Number(decimal(rd))
			pack[i] = record{Name: string(rd.Probe), Unit: rd.Unit().SenML(), Value: &v, Suspect: rd.Quality == sensors.Suspect}
			if rd.Step != units.Whole(rd.Unit()) {
				pack[i].Raw, pack[i].Num, pack[i].Den = &rd.Raw, rd.Step.Num, rd.Step.Den
			}
		}
		pack[0].BaseTime = json.Number(plain(big.NewRat(r.At.UnixMilli(), 1000)))
		if node != "" {
			pack[0].BaseName = node + "/"
		}
		if err := enc.Encode(pack); err != nil {
			return t, fmt.Errorf("writing readings: %w", err)
		}
		t.Readings += len(pack)
	}
	if err := out.Flush(); err != nil {
		return t, fmt.Errorf("writing readings: %w", err)
	}
	return t, nil
}

// ReadSenML reads packs, one a line, or one pack over the whole file. Times relative to now are refused: a file has no now.
func ReadSenML(name string, r io.Reader) (Read, error) {
	g := newGatherer(name)
	err := eachLine(name, r, func(n int, line string) {
		recs, err := parsePack(line)
		if err != nil {
			g.refuse(n, "%v", err)
			return
		}
		var base record
		for i := range recs {
			if err := g.record(n, &base, &recs[i]); err != nil {
				g.refuse(n, "record %d: %v", i+1, err)
			}
		}
	})
	if err != nil {
		return Read{}, err
	}
	return g.read()
}

func parsePack(line string) ([]record, error) {
	var raw []map[string]json.RawMessage
	if err := json.Unmarshal([]byte(line), &raw); err != nil {
		return nil, errors.New("it is not a SenML pack: write an array of records")
	}
	for _, m := range raw {
		for label := range m {
			if strings.HasSuffix(label, "_") {
				return nil, fmt.Errorf("label %q must be understood and is not (RFC 8428 section 4.4)", label)
			}
		}
	}
	var recs []record
	if err := json.Unmarshal([]byte(line), &recs); err != nil {
		return nil, fmt.Errorf("it is not a SenML pack: %w", err)
	}
	return recs, nil
}

var senmlName = regexp.MustCompile(`^[A-Za-z0-9][-A-Za-z0-9:./_]*$`)

// record resolves one record (RFC 8428 section 4.6).
func (g *gatherer) record(line int, base, r *record) error {
	for _, set := range []func(){
		func() { base.BaseName = or(r.BaseName, base.BaseName) },
		func() { base.BaseTime = or(r.BaseTime, base.BaseTime) },
		func() { base.BaseUnit = or(r.BaseUnit, base.BaseUnit) },
		func() { base.BaseValue = or(r.BaseValue, base.BaseValue) },
	} {
		set()
	}
	if r.Value == nil {
		return errors.New("it has no number value (v)")
	}
	full := base.BaseName + r.Name
	if !senmlName.MatchString(full) {
		return fmt.Errorf("%q is not a name of RFC 8428 section 4.5.1", full)
	}
	seconds, err := sum(base.BaseTime, r.Time)
	if err != nil {
		return err
	}
	if seconds.Cmp(big.NewRat(1<<28, 1)) < 0 {
		return errors.New("its time is relative to now: a recording needs its own")
	}
	if seconds.Cmp(big.NewRat(1<<33, 1)) > 0 { // the year 2242; what is far beyond would come round to a time that looks like one
		return errors.New("its time is far in the future")
	}
	value, err := sum(base.BaseValue, *r.Value)
	if err != nil {
		return err
	}
	unit := or(r.Unit, base.BaseUnit)
	if f, ok := registry[unit]; ok {
		value.Mul(value, f.times)
		unit = f.unit
	}
	u, err := units.FromSenML(unit)
	if err != nil {
		return err
	}
	probe := full[strings.LastIndexAny(full, "/:")+1:]
	ms := new(big.Rat).Mul(seconds, big.NewRat(1000, 1))
	at := time.UnixMilli(new(big.Int).Div(ms.Num(), ms.Denom()).Int64())
	exact := sensors.Reading{Probe: sensors.ProbeID(probe)}
	if r.Raw != nil && soundStep(*r.Raw, r.Num, r.Den) {
		exact.Raw, exact.Step = *r.Raw, units.Step{Unit: u, Num: r.Num, Den: r.Den}
	} else {
		exact = wholeReading(probe, value, u)
	}
	if r.Suspect {
		exact.Quality = sensors.Suspect
	}
	g.add(line, at, probe, plain(value), unit, &exact)
	return nil
}

// soundStep reports whether counts of a step can be turned into whole units without overflow.
func soundStep(raw int64, num, den int32) bool {
	n := int64(max(num, -num))
	return num != 0 && num != math.MinInt32 && den > 0 && raw < math.MaxInt64/2/n-int64(den) && raw > -math.MaxInt64/2/n+int64(den)
}

// wholeReading is a reading in the whole-number unit; one that has more digits is not the same quantity and is not used.
func wholeReading(probe string, value *big.Rat, u units.Unit) sensors.Reading {
	whole := new(big.Rat).Mul(value, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(u.Digits())), nil)))
	return sensors.Reading{Probe: sensors.ProbeID(probe), Raw: new(big.Int).Div(whole.Num(), whole.Denom()).Int64(), Step: units.Whole(u)}
}

// registry converts units of RFC 8428's own registry to those the journal prints.
var registry = map[string]struct {
	unit  string
	times *big.Rat
}{
	"Pa": {"hPa", big.NewRat(1, 100)}, "m": {"mm", big.NewRat(1000, 1)}, "kg": {"g", big.NewRat(1000, 1)}, "S/m": {"uS/cm", big.NewRat(10000, 1)},
}

func or[T comparable](a, b T) T {
	var zero T
	if a != zero {
		return a
	}
	return b
}

// plainNumber is a number as JSON writes it; the exponent of a number of at most forty characters fits an int.
var plainNumber = regexp.MustCompile(`^[-+]?[0-9]+(?:\.[0-9]*)?(?:[eE]([-+]?[0-9]{1,9}))?$`)

func sum(a, b json.Number) (*big.Rat, error) {
	total := new(big.Rat)
	for _, n := range []json.Number{a, b} {
		if n == "" {
			continue
		}
		if len(n) > 40 {
			return nil, fmt.Errorf("%.40s... has too many digits", n)
		}
		// The library also reads fractions, hexadecimal digits and exponents that fill the memory.
		m := plainNumber.FindStringSubmatch(string(n))
		if m == nil {
			return nil, fmt.Errorf("%q is not a number", n)
		}
		if exp, _ := strconv.Atoi(m[1]); exp > 40 || exp < -40 {
			return nil, fmt.Errorf("%q is out of all range", n)
		}
		v, ok := new(big.Rat).SetString(string(n))
		if !ok {
			return nil, fmt.Errorf("%q is not a number", n)
		}
		total.Add(total, v)
	}
	return total, nil
}

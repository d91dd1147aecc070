package drivers

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// The kernel's w1_therm files. w1_slave is preferred because it carries the scratchpad, which tells a power-on 85 °C, a
// starved 127.94 °C and a grounded data wire from real values; temperature is the fallback. Bulk conversion is never used: a
// probe that is not read at once would later hand out the old measurement as new. Nothing here writes.
func init() {
	add(Driver{
		Name: "w1",
		Doc:  "DS18B20 and its family on the kernel's 1-wire bus: temperature of a pot or of the air.",
		Example: `[[probe]]
id = "D7-t"
measures = "pot-temperature"
pot = "D7"
[probe.w1]
id = "28-0316a2794f21"
`,
		Parse: parseW1Table,
		Look:  lookW1,
	})
}

const (
	w1Devices = "sys/bus/w1/devices"
	w1Bus     = "w1"
)

var w1ID = regexp.MustCompile(`^(10|22|28|3b|42)-[0-9a-f]{12}$`)

type w1Table struct {
	ID string `toml:"id" help:"printed by 'lathwatch probes': family and serial number"`
}

func parseW1Table(p garden.Probe) (Wish, error) {
	var of w1Table
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	of.ID = strings.ToLower(of.ID)
	if strings.HasPrefix(of.ID, "00-") {
		return Wish{}, p.Source.Errorf("id", "%s is a phantom, not a sensor: bad wiring or a weak pull-up makes them", of.ID)
	}
	if !w1ID.MatchString(of.ID) {
		return Wish{}, p.Source.Errorf("id", "%q is not a thermometer's id: write it as the kernel does, like \"28-0316a2794f21\"", of.ID)
	}
	if err := mustMeasure(p, "1-wire thermometer", garden.PotTemperature, garden.AirTemperature); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: w1Bus, Chip: "w1 " + of.ID, Channel: "temperature", Apart: true, Open: openW1, Of: of}, nil
}

func openW1(env Env, wishes []Wish) (Source, error) {
	return &w1Source{env: env, wish: wishes[0], id: wishes[0].Of.(w1Table).ID}, nil
}

type w1Source struct {
	env     Env
	wish    Wish
	id      string
	looked  time.Time // when the bus was last looked over for phantoms
	phantom bool      // and some were there
	told    bool      // about parasite power and resolution
	starved int       // answers in a row without supply
}

// Close has nothing to let go.
func (*w1Source) Close() error { return nil }

// Poll starts one conversion and waits for it: 0.1 to 0.8 s.
func (s *w1Source) Poll(ctx context.Context) ([]sensors.Reading, []sensors.Fault) {
	s.lookOver()
	a := plausible(s.ask(ctx))
	s.count(a)
	if a.err != nil {
		return nil, []sensors.Fault{faultOf(s.wish.Probe, a.err)}
	}
	return []sensors.Reading{{Probe: s.wish.Probe, Raw: a.raw, Step: a.step}}, nil
}

// ask reads, and once more after a second when the kernel hands out no bytes: current kernels report a failed conversion so.
func (s *w1Source) ask(ctx context.Context) answer {
	a, empty := s.readOnce()
	if !empty {
		return a
	}
	if err := pause(ctx, time.Second); err != nil {
		return answer{err: err}
	}
	a, _ = s.readOnce()
	return a
}

func (s *w1Source) readOnce() (a answer, empty bool) {
	parse := parseW1Slave
	text, err := s.env.text(s.env.path(w1Devices, s.id, "w1_slave"))
	if errors.Is(err, fs.ErrNotExist) {
		parse = parseW1Temperature
		text, err = s.env.text(s.env.path(w1Devices, s.id, "temperature"))
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return answer{err: silent("not on the bus")}, false
	case err != nil:
		return answer{err: silent("reading failed: %v", errors.Unwrap(err))}, false
	case text == "":
		return answer{err: silent("the kernel read nothing")}, true
	}
	s.tell(text)
	return parse(text, s.id[:2]), false
}

// count speaks up when a probe has been without supply three times running.
func (s *w1Source) count(a answer) {
	if !errors.Is(a.err, errStarved) {
		s.starved = 0
		return
	}
	if s.starved++; s.starved == 3 {
		s.env.notice(w1Bus, "probe %s (%s) gets no supply: look at its power wire", s.wish.Probe, s.id)
	}
}

// tell says once what the keeper may want to change: parasite power outdoors, coarse steps.
func (s *w1Source) tell(text string) {
	if s.told {
		return
	}
	s.told = true
	if power, err := s.env.text(s.env.path(w1Devices, s.id, "ext_power")); err == nil && power == "0" {
		s.env.notice(w1Bus, "probe %s (%s) draws its power from the data wire: give it a power wire, out of doors it will fail", s.wish.Probe, s.id)
	}
	bits := scratchBits(text)
	if res, err := s.env.text(s.env.path(w1Devices, s.id, "resolution")); err == nil && bits == 0 && len(res) <= 2 {
		_, _ = fmt.Sscan(res, &bits)
	}
	if bits >= 9 && bits < 12 {
		s.env.notice(w1Bus, "probe %s (%s) is set to %d bits: it reads in steps of %v °C", s.wish.Probe, s.id, bits, 0.5/float64(int(1)<<(bits-9)))
	}
}

// phantoms is what is said of them.
const phantoms = "devices that do not exist answer on the bus: look at the pull-up, the length and the shape of the wiring"

// lookOver warns of phantoms, devices of family 00 that a bad pull-up conjures up, and takes it back with the first round without them.
// They are never taken for probes.
func (s *w1Source) lookOver() {
	due := s.looked.IsZero() || time.Since(s.looked) >= time.Hour
	if !s.phantom && !due {
		return
	}
	if due {
		s.looked = time.Now()
	}
	entries, _ := os.ReadDir(s.env.path(w1Devices))
	there := slices.ContainsFunc(entries, func(e os.DirEntry) bool { return strings.HasPrefix(e.Name(), "00-") })
	switch {
	case there && due:
		s.env.notice(w1Bus, phantoms)
	case !there && s.phantom && s.env.Mended != nil:
		s.env.Mended(w1Bus, phantoms)
	}
	s.phantom = there
}

func lookW1(env Env) []Found {
	entries, _ := os.ReadDir(env.path(w1Devices))
	var found []Found
	for _, e := range entries {
		if !w1ID.MatchString(e.Name()) {
			continue
		}
		found = append(found, Found{Bus: w1Bus, Chip: "w1 " + e.Name(), Channel: "temperature", Says: "1-wire thermometer " + e.Name(),
			Block: "[[probe]]\nid = \"\"\nmeasures = \"pot-temperature\"\npot = \"\"\n[probe.w1]\nid = \"" + e.Name() + "\"\n"})
	}
	return found
}

package drivers

import (
	"context"
	"path/filepath"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// A battery or supply the kernel knows (Linux, Documentation/ABI/testing/sysfs-class-power).
func init() {
	add(Driver{
		Name: "power",
		Doc:  "a battery or supply the kernel knows: charge or voltage.",
		Example: `[[probe]]
id = "pack"
measures = "battery"
place = "table"
[probe.power]
name = "BAT0"
reads = "capacity"
`,
		Parse: parsePower,
		Look:  lookPower,
	})
}

const powerDir = "sys/class/power_supply"

type powerTable struct {
	Name  string `toml:"name" help:"its folder among the kernel's power supplies"`
	Reads string `toml:"reads" help:"capacity or voltage_now"`
}

func parsePower(p garden.Probe) (Wish, error) {
	of := powerTable{Reads: "capacity"}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if of.Name == "" || strings.ContainsAny(of.Name, "/\x00") || of.Name[0] == '.' {
		return Wish{}, p.Source.Errorf("name", "%q is no supply's name: write it like \"BAT0\"", of.Name)
	}
	if of.Reads != "capacity" && of.Reads != "voltage_now" {
		return Wish{}, p.Source.Errorf("reads", "%q: write \"capacity\" or \"voltage_now\"", of.Reads)
	}
	if err := mustMeasure(p, "supply", garden.Battery, garden.Supply); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: "power", Chip: "power " + of.Name, Channel: of.Reads, Apart: true, Open: openPower, Of: of}, nil
}

func openPower(env Env, wishes []Wish) (Source, error) {
	dir := env.path(powerDir, wishes[0].Of.(powerTable).Name)
	return &kernelChip{env: env, wishes: wishes, sub: "power",
		find: func() (string, string, error) { return dir, "", nil },
		ask:  env.askPower}, nil
}

func (env Env) askPower(ctx context.Context, dir string, w Wish) answer {
	of := w.Of.(powerTable)
	text, err := env.attr(ctx, filepath.Join(dir, of.Reads))
	if err != nil {
		return answer{err: err}
	}
	if of.Reads == "voltage_now" { // microvolt
		return plainWhole(text, 0, units.Whole(units.Voltage))
	}
	a := plainWhole(text, 0, units.Step{Unit: units.Charge, Num: 10, Den: 1})
	if a.err == nil && (a.raw < 0 || a.raw > 100) {
		a.err = implausible("a charge of %d per cent", a.raw)
	}
	return a
}

func lookPower(env Env) []Found {
	var found []Found
	for _, reads := range []string{"capacity", "voltage_now"} {
		files, _ := filepath.Glob(env.path(powerDir, "*", reads))
		for _, f := range files {
			name := filepath.Base(filepath.Dir(f))
			found = append(found, Found{Bus: "power", Chip: "power " + name, Channel: reads, Says: name + " " + reads,
				Block: "[[probe]]\nid = \"\"\nmeasures = \"battery\"\nplace = \"\"\n[probe.power]\nname = \"" + name + "\"\nreads = \"" + reads + "\"\n"})
		}
	}
	return found
}

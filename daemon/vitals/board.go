package vitals

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// About tells of the program and the board it runs on. root is "" for this board.
func About(root, version string, at time.Time) Part {
	var b strings.Builder
	fmt.Fprintf(&b, "made       %s\nprogram    lathwatch %s, %s, %s/%s\n", at.UTC().Format(time.RFC3339), version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	for _, f := range []struct{ name, path string }{{"kernel", "proc/sys/kernel/osrelease"}, {"board", "proc/device-tree/model"}, {"memory", "proc/meminfo"},
		{"load", "proc/loadavg"}, {"up", "proc/uptime"}, {"system", "etc/os-release"}} {
		if line := firstLine(filepath.Join("/", root, f.path)); line != "" {
			fmt.Fprintf(&b, "%-10s %s\n", f.name, line)
		}
	}
	fmt.Fprintf(&b, "processors %d\n", runtime.NumCPU())
	return Part{"about.txt", "the program and the board", b.String()}
}

func firstLine(path string) string {
	text, _ := os.ReadFile(path) // a board without it has nothing to say
	line, _, _ := strings.Cut(string(text), "\n")
	return strings.ToValidUTF8(strings.TrimSpace(strings.TrimRight(line, "\x00")), "?")
}

// wires are the folders in which a kernel lists what is on its buses, with the file that names each thing there.
var wires = []struct{ dir, name string }{{"sys/bus/w1/devices", "name"}, {"sys/bus/i2c/devices", "name"}, {"sys/bus/iio/devices", "name"}, {"sys/class/hwmon", "name"},
	{"sys/class/power_supply", "type"}, {"sys/class/rtc", "name"}, {"dev/serial/by-id", ""}, {"dev/serial/by-path", ""}}

// entriesMost bounds how much of one folder is listed.
const entriesMost = 200

// Wires lists what the kernel has found on the board's buses. Nothing is asked on a wire.
func Wires(root string) Part {
	var b strings.Builder
	for _, w := range wires {
		entries, err := os.ReadDir(filepath.Join("/", root, w.dir)) // sorted
		if err != nil {
			fmt.Fprintf(&b, "/%s: not there\n", w.dir)
			continue
		}
		fmt.Fprintf(&b, "/%s: %d\n", w.dir, len(entries))
		for _, e := range entries[:min(len(entries), entriesMost)] {
			fmt.Fprintf(&b, "  %s", e.Name())
			if w.name != "" {
				fmt.Fprintf(&b, "  %s", firstLine(filepath.Join("/", root, w.dir, e.Name(), w.name)))
			}
			b.WriteByte('\n')
		}
	}
	return Part{"wires.txt", "what the kernel has found on the buses", b.String()}
}

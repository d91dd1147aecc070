package daemon

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// BenchmarkResident runs the program itself, with page and broker, over a journal of ten years of five-minute rounds of 20 probes
// and fake kernel files, and reads what of it is resident (VmRSS): idle-MiB a minute after its start, replay-MiB the most seen while
// the running daemon learns all ten years anew, of-idle the one over the other. of-limit holds the idle figure against 35 MiB.
func BenchmarkResident(b *testing.B) {
	const every = 5 * time.Minute
	dir := b.TempDir()
	program := filepath.Join(dir, "lathwatch")
	build := exec.Command("go", "build", "-o", program, "lathwatch/cmd/lathwatch")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	text := loadGarden("5 min")
	if err := os.WriteFile(filepath.Join(dir, "garden.toml"), []byte(text), 0o600); err != nil {
		b.Fatal(err)
	}
	loadTree(b, filepath.Join(dir, "root"))
	state := filepath.Join(dir, "state")
	if err := os.Mkdir(state, 0o750); err != nil {
		b.Fatal(err)
	}
	rounds := loadDecade(b, filepath.Join(state, "lathwatch.journal"), text, every, loadDays, time.Now().UTC().Truncate(24*time.Hour))
	for b.Loop() {
		cmd := exec.Command(program, "run", "--garden", filepath.Join(dir, "garden.toml"), "--state", state, "--root", filepath.Join(dir, "root"))
		cmd.Stderr = os.Stderr
		out, err := cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
		lines := bufio.NewScanner(out)
		for said := 0; said < 2 && lines.Scan(); said++ { // the page's address and the broker's
		}
		time.Sleep(time.Minute)
		idle := residentOf(b, cmd.Process.Pid)
		done := make(chan error, 1)
		go func() { // ends with the replay
			c, err := Dial(state)
			if err == nil {
				_, err = c.Relearn(b.Context())
			}
			done <- err
		}()
		most, began := 0.0, time.Now()
		for running := true; running; {
			select {
			case err := <-done:
				if err != nil {
					b.Fatal(err)
				}
				running = false
			case <-time.After(50 * time.Millisecond):
				most = max(most, residentOf(b, cmd.Process.Pid))
			}
		}
		b.ReportMetric(idle, "idle-MiB")
		b.ReportMetric(idle/35, "of-limit")
		b.ReportMetric(most, "replay-MiB")
		b.ReportMetric(most/idle, "of-idle")
		b.ReportMetric(20*float64(rounds)/time.Since(began).Seconds(), "replayed-readings/s")
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			b.Fatal(err)
		}
		if err := cmd.Wait(); err != nil {
			b.Fatal(err)
		}
	}
}

// residentOf is a process's memory in MiB, as the kernel counts it.
func residentOf(b *testing.B, pid int) float64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Skip(err)
	}
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); len(f) == 3 && f[0] == "VmRSS:" {
			kb, err := strconv.ParseFloat(f[1], 64)
			if err != nil {
				b.Fatal(err)
			}
			return kb / 1024
		}
	}
	b.Fatal("no VmRSS")
	return 0
}

// loadTree writes the kernel's files for the probes of loadGarden.
func loadTree(b *testing.B, root string) {
	put := func(value string, path ...string) {
		file := filepath.Join(slices.Insert(path, 0, root)...)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			b.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(value+"\n"), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for i := range 10 {
		put(strconv.Itoa(6000+100*i), "sys/bus/w1/devices", loadChip(i), "temperature")
	}
	for i, label := range []string{"table", "wall", "front", "back"} {
		dev := fmt.Sprintf("sys/bus/iio/devices/iio:device%d", i)
		put(label, dev, "label")
		if i < 2 {
			put("hdc1000", dev, "name")
			put("52000", dev, "in_humidityrelative_raw")
			put("1.525878906", dev, "in_humidityrelative_scale")
			continue
		}
		put("ads1015", dev, "name")
		for c := range 4 {
			put(strconv.Itoa(700+50*c), dev, fmt.Sprintf("in_voltage%d_raw", c))
			put("2", dev, fmt.Sprintf("in_voltage%d_scale", c))
		}
	}
}

package vitals

import (
	"runtime"
	"time"
)

// A family is one metric family that is read off a Report. Names follow OpenMetrics: base units, the unit at the end, counters with
// _total.
type family struct {
	name, unit, help string
	counter          bool
	labels           []string
	take             func(r *Report, put put)
}

// put adds a sample; its labels are in the family's order.
type put func(value float64, labels ...string)

var families = []family{
	{name: "lathwatch_build_info", help: "The program that runs; always 1.", labels: []string{"version", "goversion"},
		take: func(r *Report, put put) { put(1, r.Version, runtime.Version()) }},
	{name: "lathwatch_well", help: "1 while every needed worker lives, rounds are walked and kept, and something answers.",
		take: func(r *Report, put put) { _, well := r.Well(); put(truth(well)) }},
	{name: "lathwatch_worker_well", help: "1 while a needed worker lives.", labels: []string{"worker"}, take: eachWorker(func(w Worker) float64 { return truth(w.Ill == "") })},
	{name: "lathwatch_worker_quiet_seconds", unit: "seconds", help: "Time since a needed worker's last sign of life.", labels: []string{"worker"},
		take: eachWorker(func(w Worker) float64 { return w.Quiet.Seconds() })},

	{name: "lathwatch_rounds_total", counter: true, help: "Rounds walked since the start.", take: func(r *Report, put put) { put(float64(r.Rounds.Walked)) }},
	{name: "lathwatch_rounds_held_total", counter: true, help: "Rounds walked while the clock was not to be trusted.", take: func(r *Report, put put) { put(float64(r.Rounds.Held)) }},
	{name: "lathwatch_round_age_seconds", unit: "seconds", help: "Time since the newest round was walked.", take: func(r *Report, put put) { put(r.Rounds.Since.Seconds()) }},
	{name: "lathwatch_round_newest_timestamp_seconds", unit: "seconds", help: "Appointed instant of the newest round on record.",
		take: func(r *Report, put put) { instant(put, r.Rounds.Newest) }},
	{name: "lathwatch_rounds_waiting", help: "Rounds that wait in memory because the journal cannot be written.", take: func(r *Report, put put) { put(float64(r.Rounds.Waiting)) }},
	{name: "lathwatch_readings_total", counter: true, help: "Readings of live rounds by what the door thought of them.", labels: []string{"quality"},
		take: func(r *Report, put put) {
			put(float64(r.Rounds.Valid), "valid")
			put(float64(r.Rounds.Suspect), "suspect")
		}},
	{name: "lathwatch_faults_total", counter: true, help: "Probes that failed in live rounds, by how.", labels: []string{"kind"},
		take: func(r *Report, put put) { eachKind(r.Rounds.Faults, put) }},

	{name: "lathwatch_bus_asks_total", counter: true, help: "Probes asked on a bus, once each a visit.", labels: []string{"bus"}, take: eachBus(func(b Bus) float64 { return float64(b.Asked) })},
	{name: "lathwatch_bus_failures_total", counter: true, help: "Probes asked on a bus that gave no answer, or one that could not be read.", labels: []string{"bus"},
		take: eachBus(func(b Bus) float64 { return float64(b.Failed) })},
	{name: "lathwatch_bus_chips", help: "Chips on a bus that the garden reads.", labels: []string{"bus"}, take: eachBus(func(b Bus) float64 { return float64(b.Chips) })},
	{name: "lathwatch_bus_chips_silent", help: "Chips on a bus that gave nothing at the last visit.", labels: []string{"bus"}, take: eachBus(func(b Bus) float64 { return float64(b.Down) })},
	{name: "lathwatch_bus_hung_seconds", unit: "seconds", help: "For how long a chip on a bus has not come back; 0 when none hangs.", labels: []string{"bus"},
		take: eachBus(func(b Bus) float64 { return b.Hung.Seconds() })},

	{name: "lathwatch_probe_last_seen_timestamp_seconds", unit: "seconds", help: "Instant of a probe's newest reading; absent when there is none.", labels: []string{"probe"},
		take: eachProbe(func(p Probe, put put) { instant(put, p.At, p.ID) })},
	{name: "lathwatch_probe_silent", help: "1 while a probe is silent or at fault.", labels: []string{"probe"},
		take: eachProbe(func(p Probe, put put) { put(truth(p.Silent || p.Fault != "" || p.At.IsZero()), p.ID) })},
	{name: "lathwatch_battery_volts", unit: "volts", help: "Voltage of a battery that is measured in volts.", labels: []string{"probe"},
		take: eachProbe(func(p Probe, put put) {
			if p.Battery.Known && p.Battery.Volts {
				put(p.Battery.Value, p.ID)
			}
		})},
	{name: "lathwatch_battery_ratio", unit: "ratio", help: "Charge of a battery that is measured as a share of full.", labels: []string{"probe"},
		take: eachProbe(func(p Probe, put put) {
			if p.Battery.Known && !p.Battery.Volts {
				put(p.Battery.Value, p.ID)
			}
		})},

	{name: "lathwatch_journal_size_bytes", unit: "bytes", help: "Size of the journal's file.", take: ofJournal(func(j *Journal) float64 { return float64(j.Size) })},
	{name: "lathwatch_journal_log_bytes", unit: "bytes", help: "Size of the journal's write-ahead log.", take: ofJournal(func(j *Journal) float64 { return float64(j.Log) })},
	{name: "lathwatch_journal_disk_free_bytes", unit: "bytes", help: "Free space where the journal lies.", take: ofJournal(func(j *Journal) float64 { return float64(j.Free) })},
	{name: "lathwatch_journal_disk_bytes", unit: "bytes", help: "Whole space where the journal lies.", take: ofJournal(func(j *Journal) float64 { return float64(j.Whole) })},
	{name: "lathwatch_journal_writable", help: "1 while the journal takes rounds.", take: func(r *Report, put put) { put(truth(r.unwritten() == "")) }},
	{name: "lathwatch_journal_unread_parts", help: "Parts of the past that could not be read since the start.", take: ofJournal(func(j *Journal) float64 { return float64(j.Unread) })},
	{name: "lathwatch_journal_held_rounds", help: "Rounds that wait for the clock to be set.", take: ofJournal(func(j *Journal) float64 { return float64(j.Held) })},
	{name: "lathwatch_journal_backup_timestamp_seconds", unit: "seconds", help: "When the newest backup was made; absent when there is none.",
		take: func(r *Report, put put) { instant(put, r.Journal.LastBackup) }},

	{name: "lathwatch_way_waiting", help: "Changes that wait in a way's outbox.", labels: []string{"way"},
		take: func(r *Report, put put) {
			for _, o := range r.Ways {
				put(float64(o.Waiting+o.Memory), o.Name)
			}
		}},
	{name: "lathwatch_forwarder_lag_seconds", unit: "seconds", help: "How far the time-series server is behind the journal.", take: ofForwarder(func(f *Forward) float64 { return f.Lag.Seconds() })},
	{name: "lathwatch_forwarder_lines_total", counter: true, help: "Lines the time-series server took.", take: ofForwarder(func(f *Forward) float64 { return float64(f.Sent) })},
	{name: "lathwatch_forwarder_lines_set_aside", help: "Lines on record that the server will never take.", take: ofForwarder(func(f *Forward) float64 { return float64(f.Aside) })},
	{name: "lathwatch_forwarder_attempts_failing", help: "Attempts in a row that failed.", take: ofForwarder(func(f *Forward) float64 { return float64(f.Failures) })},

	{name: "lathwatch_alerts_standing", help: "Alerts that stand, by kind.", labels: []string{"kind"}, take: func(r *Report, put put) { eachKind(r.Alerts, put) }},
	{name: "lathwatch_starts_on_record", help: "Starts in the book of starts, by how their run ended; the book keeps the newest thousand.", labels: []string{"ended"},
		take: func(r *Report, put put) { eachKind(r.Ends, put) }},
	{name: "lathwatch_clock_trusted", help: "1 while the board's clock is to be trusted.", take: func(r *Report, put put) { put(truth(r.Clock.Trusted)) }},
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// instant leaves out what never was: an absent sample is not 1970.
func instant(put put, t time.Time, labels ...string) {
	if !t.IsZero() {
		put(float64(t.UnixMilli())/1000, labels...)
	}
}

func eachKind(all []Kind, put put) {
	for _, k := range all {
		put(float64(k.N), k.Name)
	}
}

func eachWorker(value func(Worker) float64) func(*Report, put) {
	return func(r *Report, put put) {
		for _, w := range r.Workers {
			if w.Needed {
				put(value(w), w.Name)
			}
		}
	}
}

func eachBus(value func(Bus) float64) func(*Report, put) {
	return func(r *Report, put put) {
		for _, b := range r.Buses {
			put(value(b), b.Name)
		}
	}
}

func eachProbe(give func(Probe, put)) func(*Report, put) {
	return func(r *Report, put put) {
		for _, p := range r.Probes {
			give(p, put)
		}
	}
}

// ofJournal leaves out what could not be looked at.
func ofJournal(value func(*Journal) float64) func(*Report, put) {
	return func(r *Report, put put) {
		if r.Journal.Unknown == "" {
			put(value(&r.Journal))
		}
	}
}

func ofForwarder(value func(*Forward) float64) func(*Report, put) {
	return func(r *Report, put put) {
		if r.Forward != nil {
			put(value(r.Forward))
		}
	}
}

package vitals

import "time"

// These are the lines of WriteJSON. Spans are in seconds, instants in UTC; what is not known is left out.

type workerLine struct {
	What   string  `json:"what"`
	Name   string  `json:"name"`
	Needed bool    `json:"needed"`
	Quiet  float64 `json:"quiet_seconds,omitempty"`
	Limit  float64 `json:"limit_seconds,omitempty"`
	Ill    string  `json:"ill,omitempty"`
}

type roundsLine struct {
	What    string            `json:"what"`
	Every   float64           `json:"every_seconds"`
	Walked  uint64            `json:"walked"`
	Held    uint64            `json:"held"`
	Valid   uint64            `json:"readings_valid"`
	Suspect uint64            `json:"readings_suspect"`
	Faults  map[string]uint64 `json:"faults"` // encoding/json sorts the keys
	Since   float64           `json:"since_seconds"`
	Waiting int               `json:"waiting"`
	Newest  time.Time         `json:"newest,omitzero"`
}

type busLine struct {
	What     string   `json:"what"`
	Name     string   `json:"name"`
	Chips    int      `json:"chips"`
	Down     int      `json:"silent_chips"`
	Asked    uint64   `json:"asked"`
	Failed   uint64   `json:"failed"`
	Share    float64  `json:"failed_share"`
	Answered *float64 `json:"answered_seconds_ago,omitempty"`
	Hung     float64  `json:"hung_seconds,omitempty"`
}

type probeLine struct {
	What     string    `json:"what"`
	ID       string    `json:"id"`
	Measures string    `json:"measures"`
	Value    string    `json:"value,omitempty"`
	At       time.Time `json:"at,omitzero"`
	Suspect  bool      `json:"suspect,omitempty"`
	Silent   bool      `json:"silent,omitempty"`
	Fault    string    `json:"fault,omitempty"`
}

type journalLine struct {
	What       string    `json:"what"`
	Path       string    `json:"path"`
	Size       int64     `json:"size_bytes"`
	Log        int64     `json:"log_bytes"`
	Free       int64     `json:"free_bytes"`
	Whole      int64     `json:"whole_bytes"`
	Unread     int       `json:"unread"`
	ReadOnly   bool      `json:"read_only"`
	Held       int       `json:"held"`
	LastBackup time.Time `json:"last_backup,omitzero"`
	Commits    uint64    `json:"commits"`
	Mean       float64   `json:"commit_mean_seconds"`
	Longest    float64   `json:"commit_longest_seconds"`
	Mended     string    `json:"mended,omitempty"`
	Unknown    string    `json:"unknown,omitempty"`
}

type wayLine struct {
	What    string `json:"what"`
	Name    string `json:"name"`
	Waiting int    `json:"waiting"`
	Trouble string `json:"trouble,omitempty"`
}

type forwardLine struct {
	What     string    `json:"what"`
	Through  time.Time `json:"through,omitzero"`
	Lag      float64   `json:"lag_seconds"`
	Sent     uint64    `json:"sent"`
	TooOld   uint64    `json:"too_old"`
	Aside    uint64    `json:"set_aside"`
	Failures uint64    `json:"failures"`
	Trouble  string    `json:"trouble,omitempty"`
}

type clockLine struct {
	What    string `json:"what"`
	Trusted bool   `json:"trusted"`
	Why     string `json:"why"`
}

type startLine struct {
	What    string    `json:"what"`
	At      time.Time `json:"at"`
	Version string    `json:"version"`
	How     string    `json:"how,omitempty"`
	Ending  string    `json:"ending,omitempty"`
}

type alertLine struct {
	What string `json:"what"`
	Kind string `json:"kind"`
	N    uint64 `json:"standing"`
}

func (r *Report) jsonLines() (all []any) {
	for _, w := range r.Workers {
		all = append(all, workerLine{"worker", w.Name, w.Needed, w.Quiet.Seconds(), w.Limit.Seconds(), w.Ill})
	}
	n := r.Rounds
	faults := map[string]uint64{}
	for _, k := range n.Faults {
		faults[k.Name] = k.N
	}
	all = append(all, roundsLine{"rounds", n.Every.Seconds(), n.Walked, n.Held, n.Valid, n.Suspect, faults, n.Since.Seconds(), n.Waiting, n.Newest})
	for _, b := range r.Buses {
		l := busLine{"bus", b.Name, b.Chips, b.Down, b.Asked, b.Failed, b.Share(), nil, b.Hung.Seconds()}
		if b.Answered >= 0 {
			s := b.Answered.Seconds()
			l.Answered = &s
		}
		all = append(all, l)
	}
	for _, p := range r.Probes {
		all = append(all, probeLine{"probe", p.ID, p.Measures, p.Value, p.At, p.Suspect, p.Silent, p.Fault})
	}
	j := r.Journal
	all = append(all, journalLine{"journal", j.Path, j.Size, j.Log, j.Free, j.Whole, j.Unread, j.ReadOnly, j.Held, j.LastBackup, j.Commits, j.CommitsMean.Seconds(),
		j.CommitsLongest.Seconds(), j.Mended, j.Unknown}, clockLine{"clock", r.Clock.Trusted, r.Clock.Why})
	for _, o := range r.Ways {
		all = append(all, wayLine{"way", o.Name, o.Waiting + o.Memory, o.Trouble})
	}
	if f := r.Forward; f != nil {
		all = append(all, forwardLine{"forwarder", f.Through, f.Lag.Seconds(), f.Sent, f.TooOld, f.Aside, f.Failures, f.Trouble})
	}
	for _, k := range r.Alerts {
		if k.N > 0 {
			all = append(all, alertLine{"alert", k.Name, k.N})
		}
	}
	for _, s := range r.Starts {
		all = append(all, startLine{"start", s.At, s.Version, s.How, s.Ending})
	}
	return all
}

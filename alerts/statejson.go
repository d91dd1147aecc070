package alerts

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// Machine lines. Their keys and the order of them are a contract with whoever reads `rehearse --json` and the state topics:
// times are UTC, intervals are pairs, the unknown is null, numbers have at most one decimal (shares of a feed two).

// figure is a number with at most so many decimals; what is no finite number is null.
type figure struct {
	value  float64
	digits int
}

// MarshalJSON writes 56.1, 57 or null; never NaN, Inf, an exponent or a negative nought.
func (f figure) MarshalJSON() ([]byte, error) {
	if math.IsNaN(f.value) || math.IsInf(f.value, 0) {
		return []byte("null"), nil
	}
	v := f.value
	if math.Abs(v) < 1e12 { // beyond it there are no decimals worth the name, and the product may overflow
		scale := math.Pow10(f.digits)
		v = math.Round(v*scale)/scale + 0
	}
	return strconv.AppendFloat(nil, v, 'f', -1, 64), nil
}

func one(v float64) *figure { return &figure{v, 1} }

func pair(i Interval) *[2]figure {
	if !i.OK {
		return nil
	}
	return &[2]figure{{i.Low, 1}, {i.High, 1}}
}

// middle is for a key that is one number: the middle of what is known.
func middle(i Interval, digits int) *figure {
	if !i.OK {
		return nil
	}
	return &figure{(i.Low + i.High) / 2, digits}
}

func instant(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.UTC().Format(time.RFC3339)
	return &s
}

func word(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

type potLine struct {
	StateAt      *string    `json:"state_at"`
	Pot          string     `json:"pot"`
	Place        *string    `json:"place"`
	Regime       *string    `json:"regime"`
	Phase        string     `json:"phase"`
	Frozen       bool       `json:"frozen"`
	Wetness      *figure    `json:"wetness"`
	WetnessAt    *string    `json:"wetness_at"`
	DaysLeft     *[2]figure `json:"days_left"`
	ColdCredit   *[2]figure `json:"cold_credit"`
	Cold         *string    `json:"cold"`
	Forcing      *[2]figure `json:"forcing"`
	FreezeThaw   int        `json:"freeze_thaw"`
	Stage        string     `json:"stage"`
	Break        *[2]string `json:"break"`
	FeedReleased *figure    `json:"feed_released"`
	Verdict      *string    `json:"verdict"`
}

// PotState is the state of the i-th pot of a standing as one JSON object without a line break: wetness in per cent of
// drained-full, days left and the break window as pairs, cold credit in credit days, forcing in °C·d over 5 °C since the cold
// was enough, feed released as a share 0 to 1. It is a line of `rehearse --state-at` and the payload of the pot's topic.
func PotState(st *Standing, i int) []byte {
	p := &st.Pots[i]
	l := potLine{StateAt: instant(st.At), Pot: p.Pot.ID, Place: word(p.Place), Phase: p.Phase.String(), Frozen: p.Frozen,
		WetnessAt: instant(p.WetnessAt), DaysLeft: pair(p.DaysLeft), ColdCredit: pair(p.ColdCredit), Forcing: pair(p.Forcing),
		FreezeThaw: p.FreezeThaw, Stage: p.Stage.String(), FeedReleased: middle(p.FeedReleased, 2), Verdict: word(p.Verdict)}
	if p.Regime != nil {
		l.Regime = &p.Regime.Name
	}
	if !p.WetnessAt.IsZero() {
		l.Wetness = one(float64(p.Wetness) / 10)
	}
	if p.Cold != ColdUnknown {
		l.Cold = word(p.Cold.String())
	}
	if p.Break != [2]garden.Date{} {
		l.Break = &[2]string{p.Break[0].String(), p.Break[1].String()}
	}
	return compact(l)
}

type placeLine struct {
	StateAt     *string    `json:"state_at"`
	Place       string     `json:"place"`
	Air         *figure    `json:"air"`
	ExpectedLow *[2]figure `json:"expected_low"`
	Offset      *figure    `json:"offset"`
	GapSince    *string    `json:"gap_since"`
	Heat        *string    `json:"heat"`
}

// PlaceState is the state of the i-th place of a standing as one JSON object without a line break: air and the coming night's
// lowest in °C, the offset from the reference place in K, and what stands behind its being hotter than the shaded reference.
func PlaceState(st *Standing, i int) []byte {
	p := &st.Places[i]
	l := placeLine{StateAt: instant(st.At), Place: p.Place.ID, ExpectedLow: pair(p.Expected), Offset: middle(p.Offset, 1), GapSince: instant(p.GapSince)}
	if !p.AirAt.IsZero() {
		l.Air = one(p.Air.Celsius())
	}
	if p.HeatKnown {
		l.Heat = word(heatWord(p))
	}
	return compact(l)
}

func heatWord(p *PlaceStanding) string {
	if p.Heat == indices.HeatUnknown && p.HeatPeak == 0 {
		return "no shaded reference"
	}
	return p.Heat.String()
}

type messageLine struct {
	At    *string  `json:"at"`
	Kind  string   `json:"kind"`
	Rank  string   `json:"rank"`
	Place *string  `json:"place"`
	Pots  []string `json:"pots"`
	Key   string   `json:"key"`
	Text  string   `json:"text"`
}

func message(c Change) messageLine {
	return messageLine{At: instant(c.At), Kind: c.Kind, Rank: c.Rank.String(), Place: word(c.Place), Pots: append([]string{}, c.Pots...), Key: c.Key, Text: c.Text}
}

// MessageLine is one message as one JSON object without a line break; pots is a list even when there is none.
func MessageLine(c Change) []byte { return compact(message(c)) }

// SentMessage is what a way out that speaks JSON sends for a change: MessageLine's keys first, then what a receiver needs to
// file it: the alert's subject and state, whom it is for, until when it is worth reading.
func SentMessage(c Change, text string) []byte {
	m := message(c)
	m.Text = text
	return compact(struct {
		messageLine
		State   string  `json:"state"`
		Subject string  `json:"subject"`
		To      *string `json:"to"`
		Until   *string `json:"until"`
	}{m, c.State.String(), c.Subject, word(c.To), instant(c.Until)})
}

// AlertState is a standing alert as one JSON object without a line break, the retained payload of its topic.
func AlertState(a Alert) []byte {
	return compact(struct {
		Key     string   `json:"key"`
		Kind    string   `json:"kind"`
		Subject string   `json:"subject"`
		Rank    string   `json:"rank"`
		State   string   `json:"state"`
		Place   *string  `json:"place"`
		Pots    []string `json:"pots"`
		Since   *string  `json:"since"`
		Text    string   `json:"text"`
		Seen    bool     `json:"seen"`
		Later   *string  `json:"later"`
	}{a.Key, a.Kind, a.Subject, a.Rank.String(), Raised.String(), word(a.Place), append([]string{}, a.Pots...), instant(a.Since), a.Text, a.Seen, instant(a.Later)})
}

// AlertOver is the last word on an alert's topic before it is emptied.
func AlertOver(c Change) []byte {
	return compact(struct {
		Key     string   `json:"key"`
		Kind    string   `json:"kind"`
		Subject string   `json:"subject"`
		Rank    string   `json:"rank"`
		State   string   `json:"state"`
		Place   *string  `json:"place"`
		Pots    []string `json:"pots"`
		At      *string  `json:"at"`
		Text    string   `json:"text"`
	}{c.Key, c.Kind, c.Subject, c.Rank.String(), Cleared.String(), word(c.Place), append([]string{}, c.Pots...), instant(c.At), c.Text})
}

// compact encodes on one line and leaves <, > and & as they are: these lines are read by eye and by machines, not by browsers.
func compact(v any) []byte {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		panic("encoding a machine line: " + err.Error()) // only a type that cannot be encoded gets here
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n"))
}

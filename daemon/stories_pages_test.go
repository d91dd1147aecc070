package daemon

import (
	"strings"
	"testing"
	"time"

	"lathwatch/dashboards/sitter"
)

// climate is what the tale of Dunmere Vale leaves out: monthly figures of an invented cool place, for the page that weighs the moves.
const climate = `
[normals]
mean = ["4.1 °C", "4.2 °C", "5.6 °C", "7.3 °C", "10.1 °C", "12.8 °C", "14.6 °C", "14.2 °C", "12.3 °C", "9.5 °C", "6.4 °C", "4.7 °C"]
spread = ["1.3 °C", "1.3 °C", "1.3 °C", "1.2 °C", "1.2 °C", "1.2 °C", "1.1 °C", "1.1 °C", "1.1 °C", "1.2 °C", "1.2 °C", "1.3 °C"]
`

// Moved out one week before a frost at the wall, as the keeper finds it on the page and in the calendar.
func TestTheFrostAtTheWallOnThePageAndInTheCalendar(t *testing.T) {
	s := loadStoryAs(t, "../testdata/stories/06.txtar", func(g string) string { return g + climate })
	l := s.live(t)
	l.tell(asked{"2027-03-28T12:00", func(l *lived) {
		moves := l.read("/moves")
		moves.says("SE1", "the shelter table", "%", "%")
		moves.says("All 24 ", "by one note")
		moves.says("24 pots now at the shelter table", "At the shaded wall: the night's minimum −1.8 °C", "leaves on clear nights another −2.0 °C")
		l.day(l.calendar(), "move-out-2027", "2027-03-20", "2027-04-20")
		l.day(l.calendar(), "move-in-2027", "2026-10-18", "2026-11-15")
	}}, asked{"2027-04-04T20:00", func(l *lived) {
		today := l.read("/")
		today.says("Shelter O2, O3, O4, O5, O6, O7, O8, O9 and SE1 from frost tonight")
		today.says("O2, O3, O4, O5, O6, O7, O8 and O9 back under the shelter table and under fleece and bring SE1 indoors", "at the shaded wall −3.4 °C", "−1.6 °C under the shelter table")
		today.says("The shaded wall", "24 pots")
		today.silent("frost", "C1")
		today.silent("Move ", "under the shelter before")
		se1 := l.read("/pot/SE1")
		se1.says("Shelter from frost tonight")
		se1.says("Stage", "bud", "30 Mar")
		se1.says("Place", "the shaded wall", "since 28 Mar")
		se1.says("28 Mar", "moved")
		se1.says("20 Mar", "granules")
		l.read("/pot/C1").says("Nothing to do")
		l.read("/said").says("18:00", "frost tonight")
		moves := l.read("/moves")
		moves.says("SE1", "bud", "the shaded wall", "%")
		moves.says("24 pots now at the shaded wall", "At the shelter table: the night's minimum +1.9 °C", "worst chance of a harmful night")
	}}, asked{"2027-04-05T13:00", func(l *lived) {
		today := l.read("/")
		today.says("The shelter table")
		today.says("Nights here 1.9 °C warmer")
		today.silent("Tonight: Frost tonight")
		l.read("/moves").says("the shelter table +1.9 °C on the last night watched")
		l.read("/ledger").says("O2", "garden hybrid")
	}})
}

// August with a sitter, as the keeper and the sitter find it.
func TestAugustWithASitterOnThePagesAndInTheCalendar(t *testing.T) {
	l := loadStory(t, "../testdata/stories/08.txtar").live(t)
	var secret string
	l.tell(asked{"2027-08-02T20:00", func(l *lived) {
		var err error
		if secret, err = l.addresses("sitting").fresh(t.Context(), l.now.AddDate(0, 1, 0)); err != nil {
			t.Fatal(err)
		}
		l.read("/").says("The sitter has the sheet")
		l.read("/sitter").says("You are noted as away", "2 Aug", "17 Aug")
		for _, sheet := range []sheetRead{l.read("/sitter?from=2027-08-02&until=2027-08-17"), l.read(sitter.Path + secret)} {
			sheet.says("Wed 4 Aug", "Sat 7 Aug", "Tue 10 Aug", "Fri 13 Aug", "Mon 16 Aug", "towards evening")
			sheet.says("Row 2, from the first pot to the last")
			sheet.says("1.", "B1, B2, B3", "0.4 litres each (1.2 litres for the row)")
			sheet.says("Never feed them")
			sheet.says("Do not move a pot")
			sheet.says("Leave the saucers")
			sheet.silent("Nothing measures")
		}
	}}, asked{"2027-08-09T12:00", func(l *lived) {
		l.read(sitter.Path+secret).says("Please come on 9 August as well as on 10 August", "410 mL to each pot at row 2")
		today := l.read("/")
		today.says("The sitter was asked to water B1, B2 and B3")
		today.says("1–4 d", "70 %", "B1")
		today.says("as B1", "B2")
		said := l.read("/said")
		said.says("09:00", "sitter water", "to the sitter")
		said.silent("Water B1")
		l.read("/pot/B1").says("Until the dry limit", "1–4 d")
		l.day(l.calendar(), "water-b1", "2027-08-10", "2027-08-13")
	}}, asked{"2027-08-12T12:00", func(l *lived) { // the thunderstorm of the 11th cancels nothing
		l.read(sitter.Path + secret).says("Fri 13 Aug")
		l.read("/").says("Rain, 24 h", "22.0 mm")
		l.read("/pot/B1").says("Water left", "%")
		l.day(l.calendar(), "water-b1", "2027-08-13", "2027-08-18")
	}}, asked{"2027-08-17T20:00", func(l *lived) {
		said := l.read("/said")
		said.says("08:00", "the week")
		for _, line := range said.lines {
			if strings.HasPrefix(line, "Water ") || strings.HasPrefix(line, "Feed ") || strings.Contains(line, "feed-due") {
				t.Errorf("the keeper was told %q", line)
			}
		}
	}}, asked{"2027-08-18T20:00", func(l *lived) {
		if w := l.get(sitter.Path + secret); w.Code != 200 || !strings.Contains(w.Body.String(), "Nobody is away") {
			t.Error("after the return the sitter's page says", w.Code, w.Body.String())
		}
	}})
}

// A southern year, as its keeper finds it: every window on its own side of the year, and never a north wall.
func TestASouthernYearOnThePagesAndInTheCalendar(t *testing.T) {
	l := loadStory(t, "../testdata/stories/10.txtar").live(t)
	everywhere := func(l *lived, more ...string) {
		for _, p := range append(more, "/", "/moves", "/ledger", "/winter", "/said", "/garden", "/pot/E2", "/pot/M2", "/pot/L2", "/pot/D2", "/sitter") {
			s := l.read(p)
			s.silent("north")
			s.silent("North")
		}
	}
	l.tell(asked{"2027-05-03T12:00", func(l *lived) {
		l.read("/moves").says("D2", "leaves down", "the shelter table")
		d2 := l.read("/pot/D2")
		d2.says("Place", "the shelter table", "since yesterday")
		d2.silent("Move under the shelter")
		d2.says("20 Apr", "leaves down")
		l.read("/").silent("Move ", "D2", "under the shelter before", "since")
		cal := l.calendar()
		l.day(cal, "move-in-2027", "2027-04-17", "2027-05-17")
		l.day(cal, "move-out-2027", "2027-09-17", "2027-10-20")
		l.day(cal, "weekly-look-2027", "2027-03-01", "2027-03-07")
		everywhere(l)
	}}, asked{"2027-07-31T12:00", func(l *lived) {
		today := l.read("/")
		today.says("Shade and air E2 (segawai)")
		today.silent("Shade", "M2")
		l.read("/pot/E2").says("It may move early this year")
		l.read("/pot/D2").says("Cold account", "enough for most", "68 credit days")
		l.read("/pot/M2").says("Nose expected", "29 Sep")
		cal := l.calendar()
		l.day(cal, "dress-e2-2027", "2027-08-05", "2027-08-28")
		l.day(cal, "dress-m2-2027", "2027-09-10", "2027-10-01")
		l.day(cal, "dress-d2-2027", "2027-09-10", "2027-10-01")
		everywhere(l)
	}}, asked{"2027-09-21T20:00", func(l *lived) {
		today := l.read("/")
		today.says("Shelter E2 from frost tonight")
		today.silent("frost", "M2")
		today.silent("Dress M2", "since") // they were dressed on the 10th
		l.read("/pot/E2").says("Nose this year", "24 Aug")
		l.read("/moves").says("E2", "open", "the shelter table", "%", "%")
		for _, e := range l.calendar() {
			if strings.HasPrefix(e.UID, "dress-m2") || strings.HasPrefix(e.UID, "dress-d2") {
				t.Errorf("dressed on the 10th, and the calendar still says %+v", e)
			}
		}
	}}, asked{"2027-12-20T12:00", func(l *lived) {
		l.read("/pot/E2").says("Liquid feed stops", "stopped, 24 Oct", "at its flower")
		l.read("/pot/L2").says("Liquid feed stops", "stopped, 18 Dec", "at its flower")
		l.read("/pot/M2").says("Liquid feed stops", "with 30 Jan 2028")
		l.read("/").silent("Stop the liquid feed", "E2", "since") // it has had none since
		ledger := l.read("/ledger")
		ledger.says("Ledger, season 2027")
		ledger.says("segawai", "24 Aug", "8 Sep", "24 Oct")
		ledger.says("reginae", "20 Nov", "28 Nov", "18 Dec")
		ledger.says("franchetii", "20 Apr", "2 Oct")
		ledger.says("2 plants are noted in flower")
		everywhere(l)
	}}, asked{"2028-04-25T12:00", func(l *lived) {
		l.read("/ledger?season=2027").says("segawai", "24 Aug", "24 Oct")
		review := l.read("/review?season=2027")
		review.says("The winter of 2027 at Kowhai Gully")
		review.says("The shaded wall", "last frost 21 Sep", "First warm spell 28 Jul")
		review.says("E2", "24 Aug", "inside")
		review.says("frost tonight", "E2", "yes")
		review.says("move in", "E2, M2, D2", "10 days later", "yes")
		everywhere(l, "/review?season=2027", "/ledger?season=2027")
		l.day(l.calendar(), "move-in-2028", "2028-04-17", "2028-05-17")
		if l.Standing().Season != 2028 || l.Standing().Day < l.Standing().Cal.DateOf(time.Date(2028, 3, 1, 0, 0, 0, 0, l.story.garden.Site.Zone)) {
			t.Error("the season did not close")
		}
	}})
}

package journal

import (
	"context"
	"database/sql/driver"
	"time"
)

// GardenAt gives the garden's text in force at an instant and since when; "" when none was on record yet.
func (j *Journal) GardenAt(ctx context.Context, at time.Time) (text string, since time.Time, err error) {
	err = j.with(ctx, "reading the garden in force", func() error {
		return j.c.query("select at, text from garden where at <= ? order by at desc, id desc limit 1", func(row []driver.Value) error {
			since, text = unstamp(row[0].(int64)), row[1].(string)
			return nil
		}, stamp(at))
	})
	return text, since, err
}

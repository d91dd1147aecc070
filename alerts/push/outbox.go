package push

import (
	"context"

	"lathwatch/alerts"
)

// A Letter is one change to be delivered, with its place in the journal.
type Letter struct {
	Seq    int64
	Change alerts.Change
	// Expired lists the texts of messages before this one that were not sent because their time had passed; the first line
	// after an outage says so.
	Expired []string
}

// An Outbox hands out changes in order, one at a time. Next blocks until there is one or ctx ends; it hands out the same
// letter until Done moves the mark past it. Changes whose Until has passed are marked expired by the journal and handed out
// no more (their texts come as the next letter's Expired).
type Outbox interface {
	Next(ctx context.Context) (Letter, error)
	Done(ctx context.Context, seq int64) error
}

// A Picture draws the curve that goes with a change's key, as an SVG or PNG file, for ways that carry attachments. It may be nil.
type Picture func(ctx context.Context, key string) (name string, data []byte, err error)

// A NoteTaker takes a keeper's note that came in by a way (the .../note topic). It may be nil.
type NoteTaker func(ctx context.Context, payload []byte) error

package daemon

import "context"

// KeepSeasons is the night's work on seasons that are over, for tests.
func KeepSeasons(d *Daemon, ctx context.Context) { d.keepSeasons(ctx) }

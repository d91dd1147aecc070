// Package push is the shelf of ways out: one file a way. Each reads its own Outbox in order and moves its mark once the other
// side has acknowledged. Trouble with the network is retried inside and never returned.
package push

// Package sentinel suggests which few pots to probe and for whom each may speak: by place, regime, material and how fast they dry.
package sentinel

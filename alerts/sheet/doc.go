// Package sheet makes the one sheet for whoever looks after the pots while the keeper is away: by place, in walking order, how
// much, what never to do, and the three things worth a call. It uses no word of the trade.
package sheet

// Package bus opens the board's buses and lends them to the drivers: I2C by number, serial lines by path. It is the only room
// that touches the hardware library's host half, and of that only its I2C file interface: the library's global start, which
// opens every pin and can wait for ever, is never run. Buses open when first used and again after trouble, so a board may start
// without them and an adapter may be plugged in later.
package bus

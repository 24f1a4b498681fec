// Package app is the composition root: it builds every room from the
// configuration, starts them in order and stops them in the opposite one. It
// decides nothing about meat.
package app

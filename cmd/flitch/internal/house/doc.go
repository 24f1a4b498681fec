// Package house holds the rules of the house as tests: which room may know which,
// what the pure core may not touch, how large a file may grow. Each rule prints
// its reason. There is nothing here to import.
package house

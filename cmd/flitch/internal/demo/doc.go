// Package demo runs one invented batch from cure to chill at speed. The virtual
// fridge, smoker and slabs publish over real MQTT into the embedded broker, the
// whole daemon runs behind it, and a pretend phone receives what rings. Only the
// clock is not real: it is stepped, and waits for the daemon at every step.
package demo

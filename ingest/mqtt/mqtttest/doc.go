// Package mqtttest provides the real peers that tests of the intake talk to: a
// mosquitto broker and its command line publisher, and a fast publisher that
// speaks raw MQTT 3.1.1 and remembers what was acknowledged. For tests only.
package mqtttest

// Package mqtt talks to an outside broker: Subscriber feeds readings into the
// intake and acknowledges them after they are stored, Publisher sends messages for
// the demo and the tests. It is the only importer of the MQTT client.
//
// What the client library does by itself and we must not let it: acknowledge
// before we stored (SetAutoAckDisabled), forget subscriptions at a reconnect
// (subscribed again each time), wait up to ten minutes between attempts (30 s), and
// write acknowledgements one by one without a deadline (we write them, together,
// from a goroutine of our own). The client id is
// fixed: the broker keeps the session of an abandoned id, and queues for it, for
// ever.
//
// "The broker acknowledged" is not "durable" with a broker whose own store is
// asynchronous. The promise we make with an outside broker is from the broker to
// us.
package mqtt

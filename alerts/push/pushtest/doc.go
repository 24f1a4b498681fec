// Package pushtest is the other side of web push for tests: a browser that
// decrypts what it is sent, and a push service that looks at who sends. It is
// written from the RFCs and shares no code with the library that sends.
package pushtest

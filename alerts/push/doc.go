// Package push carries messages to people: e-mail, phone push services and a
// plain HTTP hook, each through a notify.Notifier.
//
// A Channel has exactly one target. The notify library sends to several at once
// and returns only the first error, without saying whose; so every send builds a
// notify.Notify of one notifier and asks it alone. Some services ignore the
// context; a Channel keeps its deadline for them. Chat rooms and text messages go
// through the library's HTTP service (poster), which shows the answer. Errors are classified (can
// trying again help?) and stripped of secrets before they leave the package.
package push

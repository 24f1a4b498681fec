// Package certificate serves the page by https, and the broker by TLS: with files that somebody else
// renews, or with certificates of this installation's own authority, whose root
// people install on their phones.
package certificate

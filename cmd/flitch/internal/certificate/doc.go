// Package certificate serves the page by https: with files that somebody else
// renews, or with certificates of this installation's own authority, whose root
// people install on their phones.
package certificate

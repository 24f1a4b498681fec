// Package api is the door of the daemon: commands in, views, records and the
// stream of changes out, the figures for Prometheus, and the page of package web
// behind the same guard.
package api

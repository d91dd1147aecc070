// Package dashboards serves the pages a keeper reads: Today with a watering can in the other hand, and the winters afterwards. Pages
// are drawn on the server and work with scripts off; each reads the newest Standing and declares the few further calls it needs.
package dashboards

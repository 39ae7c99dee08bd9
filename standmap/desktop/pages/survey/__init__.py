"""Survey: what files bring, looked through before it is kept; trees and ground put on the map by hand."""

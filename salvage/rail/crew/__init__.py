"""The work that can be done anywhere, and who does it: processes of this machine or a cluster."""

"""Read a photograph: orientation, focal length, HEIC; is it good enough to measure from?"""

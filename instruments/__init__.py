"""Where readings come from. Knows nothing of what they are for.

Three layers, each usable alone:

1. **Bytes**, with the time they came: ``port`` (serial ports, and what the serial library opens by URL), ``sources``
   (a keyboard, or a gauge that acts as one), ``recordings`` (a file that is replayed). ``ports`` lists the ports of
   the computer and finds an indicator again by the USB numbers of its adapter. A port may be pulled out and put back;
   ``serial_line`` is the only module that touches the serial library.
2. **Frames**, complete or refused: ``lines`` (text with a terminator, also for answers to SCPI and IEEE 488.2
   queries), ``nibbles`` (13 digits of four bits), ``registers`` (Modbus RTU). A part of a line never becomes a frame.
3. **Meaning**: ``meaning`` makes of a frame a ``Reading`` (an exact decimal number, a known unit, live and within
   range) or a ``Refused`` with the reason. ``units`` has the units.

A ``profile`` describes one way of talking for all three; ``profile_files`` reads it from a TOML file, ``keys`` and
``patterns`` check it. Generic profiles ship in ``profiles/``; its README tells how to write your own.

``indicator`` (or ``registers``) puts the layers together, ``opening`` opens one by profile and address::

    from instruments.opening import open_indicator
    from instruments.profile_files import load_profile

    with open_indicator(load_profile("ascii-lines"), "usb:1234:5678:SERIAL") as indicator:
        while True:
            heard = indicator.poll(0.1)  # bytes, what they mean, why they were refused

Every byte is accounted for: it is part of a ``Reading``, of a ``Said`` (the indicator about itself), of a ``Refused``,
of a ``Blank`` (no more than the end of a line that is not there), or still pending; ``records`` has these. ``errors``
has what can go wrong with ports, profiles and files.

Beside the layers: ``proposing`` makes a profile from a few seconds of bytes (with ``line_form``), ``watching`` sees a
frozen indicator, a mode left on, gaps, and a spindle that turns faster than a hand, ``simulated`` is an indicator on a
spindle of known swing, which ``speaking`` lets talk in any profile and ``serving`` puts on a line (``line_ends``).
"""

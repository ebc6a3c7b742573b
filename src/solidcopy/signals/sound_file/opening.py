"""Open a sound file of any kind."""

from pathlib import Path

from solidcopy.errors import AudioFileError
from solidcopy.signals.sound_file.chunks import chunks_of, stated_samples
from solidcopy.signals.sound_file.facts import SoundSource
from solidcopy.signals.sound_file.library import open_library
from solidcopy.signals.sound_file.wav import open_wav


def open_source(path: Path, *, join: bool = False) -> SoundSource:
    """Open a file for reading in pieces; close it in the end.

    Args:
        path: WAV and RF64 with whole numbers, floats, A-law or mu-law, damaged or not; FLAC,
            OGG, MP3 and what else libsndfile knows.
        join: where several pieces of sound (data chunks) stand in the file, take all of them.
    Raises: AudioFileError, one sentence: not a sound file, a rate that cannot be, empty.
    """
    try:
        source = _opened(path, join=join)
    except OSError as error:
        raise AudioFileError(f"{path}: cannot be read ({error.strerror})") from None
    except AudioFileError as error:
        raise AudioFileError(f"{path}: {error}") from None
    if source.facts.n_samples == 0:
        source.close()
        raise AudioFileError(f"{path}: holds no sound (length 0); record it again")
    return source


def _opened(path: Path, *, join: bool) -> SoundSource:
    stream = path.open("rb")
    n_stated = None
    try:
        found = chunks_of(stream)
        if found is None:
            if not stream.seek(0, 2):
                raise AudioFileError("is empty (0 bytes); record it again")
            source = None
        else:
            source = open_wav(stream, *found, join=join)
            n_stated = stated_samples(stream, found[1])
    except BaseException:
        stream.close()
        raise
    if source is None:
        stream.close()
        return open_library(path, n_stated=n_stated)
    return source

"""Exceptions of the study engine; faults of a study file have their own module, ``faults``.

RunError              a run that cannot start, go on, or be read
├── ClusterError           a scheduler or its workers that cannot be reached, do not fit, or went away
├── FolderTakenError       another run is at work in the folder, or it holds something else
├── DiskSpaceError         no room for what is to be computed
├── StorageError           a disk that fills up, or a folder that goes away, while the run is at work
├── NewerRunError          a folder that a newer trivet has written
└── NotARunError           a folder without a run, or with a broken one
"""


class RunError(RuntimeError):
    """A run that cannot start, go on, or be read; the text is one paragraph fit for the designer."""


class ClusterError(RunError):
    """A scheduler or its workers cannot be used, or no longer."""


class FolderTakenError(RunError):
    """The folder belongs to another run or to something else."""


class DiskSpaceError(RunError):
    """The disk has no room for what is left to compute."""


class StorageError(RunError):
    """What is computed can no longer be stored: the disk is full or read-only, or the folder is gone."""


class NewerRunError(RunError):
    """A newer trivet has written the folder: nothing of it is read for what it may not mean, or replaced."""


class NotARunError(RunError):
    """There is no run in the folder, or what is there cannot be read."""

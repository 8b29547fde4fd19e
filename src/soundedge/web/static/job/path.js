// Is the step that is open seen on the path? On a narrow screen the path is moved so that it is.
const here = document.querySelector('.path a[aria-current="page"]');
const row = here?.closest("ol");
if (row && row.scrollWidth > row.clientWidth) row.scrollLeft = here.offsetLeft - (row.clientWidth - here.offsetWidth) / 2;
